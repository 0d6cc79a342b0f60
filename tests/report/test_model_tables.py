"""The model cards as tables."""

import re
from types import SimpleNamespace

from surgesim.report import console, model_tables

CARDS = [
    {"name": "pv 1000 class II", "kind": "arrester", "line": "Ucpv 1.0 kV, Up 4.0 kV at 20 kA"},
    {"name": "pv pair 6 mm2", "kind": "cable", "line": "two single-core PV cables, side by side"},
    {"name": "pv 600 class II", "kind": "arrester", "line": "Ucpv 600 V"},
]


def test_cards_stand_under_their_kind(kit: SimpleNamespace) -> None:
    text = console.text(model_tables.render_list(CARDS))
    kit.assert_fits(text)
    assert text.splitlines() == [
        "",
        "ARRESTER",
        "  pv 1000 class II  Ucpv 1.0 kV, Up 4.0 kV at 20 kA",
        "  pv 600 class II   Ucpv 600 V",
        "",
        "CABLE",
        "  pv pair 6 mm2     two single-core PV cables, side by side",
    ]


def test_every_number_of_a_card_has_its_source(kit: SimpleNamespace) -> None:
    fields = [
        {"field": "protection level Up", "value": "4.0 kV", "source": "IEC 61643-31, " + "x" * 90},
        {"field": "gamma", "value": "8.0", "source": "common practice, no source"},
    ]
    text = console.text(model_tables.render_card("pv 1000 class II", fields))
    kit.assert_fits(text)
    lines = text.splitlines()
    assert lines[0] == "pv 1000 class II"
    assert lines[1].split() == ["field", "value", "source"]
    assert set(lines[2]) == {"-"}
    assert re.split(r"\s{2,}", lines[3]) == ["protection level Up", "4.0 kV", "IEC 61643-31,"]
    assert lines[-1].split(maxsplit=2) == ["gamma", "8.0", "common practice, no source"]


def test_no_cards() -> None:
    assert console.text(model_tables.render_list([])).strip() == ""
