"""A record of certified numerical errors: says so, is the same twice, and is reproduced."""

from __future__ import annotations

import json
from pathlib import Path

from tests.record.records import SMALL, manifest_of, parts_of, run_command


def test_a_certified_record(tmp_path: Path) -> None:
    paths = [tmp_path / name for name in ("one.record", "two.record")]
    for path in paths:
        asked = ("--certify", "--choose", "fitted=inverter", "--no-influence", "--quiet")
        assert run_command("compare", SMALL, "--record", path, *asked).exit_code in (0, 1)
    assert paths[0].read_bytes() == paths[1].read_bytes()
    parts = parts_of(paths[0])
    manifest = manifest_of(parts)
    assert manifest["asked"]["certify"] is True
    (error,) = manifest["disclosures"]["errors"]["numerical_error"]
    assert error["how"] == "certified"
    assert error["values"] > error["unknown"] == 0
    assert error["percent"] > 0.0
    case = json.loads(parts["findings.json"])["cases"][0]
    assert [variant["outcome"] for variant in case["certification"]] == ["compared"] * 3
    told = parts["disclosures.txt"].decode()
    assert "numerical error, certified: from running the case again" in " ".join(told.split())
    again = run_command("reproduce", paths[0], "--quiet")
    assert again.exit_code == 0
    assert "only the cases were run again" in " ".join(again.stdout.split())
