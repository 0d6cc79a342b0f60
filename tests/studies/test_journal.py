"""A journal of finished cases: what is whole stays, whatever else has happened to the file."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from surgesim.errors import InputError
from surgesim.studies.journal import Journal

RECORDS = [{"case": f"p{k}", "text": "ü" * k, "number": k / 3} for k in range(6)]


def written(path: Path) -> bytes:
    path.unlink(missing_ok=True)
    with Journal(path) as journal:
        for record in reversed(RECORDS):
            journal.add(record)
    return path.read_bytes()


def test_records_come_back_in_order(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    written(path)
    with Journal(path) as journal:
        assert list(journal.records()) == RECORDS
        assert journal.dropped == 0


def test_a_later_line_of_a_case_counts(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    written(path)
    with Journal(path) as journal:
        journal.add({"case": "p3", "text": "again"})
    with Journal(path) as journal:
        assert journal.record("p3") == {"case": "p3", "text": "again"}
        assert len(journal.offsets) == len(RECORDS)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_cut_anywhere_only_the_last_line_is_lost(tmp_path: Path, data: st.DataObject) -> None:
    path = tmp_path / "journal"
    whole = written(path)
    kept = data.draw(st.integers(0, len(whole)))
    path.write_bytes(whole[:kept])
    with Journal(path) as journal:
        found = list(journal.records())
        assert len(found) == whole[:kept].count(b"\n")
        assert all(record in RECORDS for record in found)
        for record in RECORDS:
            if record["case"] not in journal.offsets:
                journal.add(record)
    with Journal(path) as journal:
        assert list(journal.records()) == RECORDS
        assert journal.dropped == 0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_byte_changed_anywhere_loses_its_line_and_no_other(
    tmp_path: Path, data: st.DataObject
) -> None:
    path = tmp_path / "journal"
    whole = bytearray(written(path))
    at = data.draw(st.integers(0, len(whole) - 1))
    whole[at] ^= data.draw(st.integers(1, 255))
    path.write_bytes(bytes(whole))
    with Journal(path) as journal:
        found = list(journal.records())
        assert all(record in RECORDS for record in found)
        # a line end that has gone joins two lines
        assert len(found) >= len(RECORDS) - 2


def test_lines_that_are_no_cases_are_dropped(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    path.write_bytes(written(path) + b"\x00" * 5000 + b"\n" + b"no checksum here\n")
    with Journal(path) as journal:
        assert list(journal.records()) == RECORDS
        assert journal.dropped == 2
    assert path.read_bytes().count(b"\n") == len(RECORDS)


def test_only_one_writes(tmp_path: Path) -> None:
    path = tmp_path / "journal"
    with Journal(path), pytest.raises(InputError, match="another process"), Journal(path):
        pass


def test_numbers_that_json_does_not_know_are_refused(tmp_path: Path) -> None:
    with Journal(tmp_path / "journal") as journal, pytest.raises(ValueError, match="JSON"):
        journal.add({"case": "p1", "peak": float("nan")})
