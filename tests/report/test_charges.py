"""The table of what the arresters carry."""

from __future__ import annotations

from typing import Any

from surgesim.report import comparison, console, numbers

Findings = dict[str, Any]


def section(text: str) -> list[str]:
    lines = text[text.index("CHARGE THROUGH THE ARRESTERS") :].splitlines()[1:]
    end = next((i for i, line in enumerate(lines) if not line.strip()), len(lines))
    return [" ".join(line.split()) for line in lines[:end]]


def test_the_largest_charge_of_each_slot_stands_beside_its_alternative(dairy: Findings) -> None:
    lines = section(console.text(comparison.render(dairy)))
    head, *rows = lines
    assert head.startswith("fitted card bond")
    with_arresters = [entry for entry in dairy["summary"] if entry["arresters"]]
    assert len(rows) == len(with_arresters)
    axes = {"fitted": "both", "card": "class II", "bond": "none"}
    cases = [c for c in dairy["cases"] if all(c["axes"][k] == v for k, v in axes.items())]
    (row,) = (line for line in rows if line.startswith("both class II none"))
    for slot in {record["name"] for case in cases for record in case["arresters"]}:
        most = max(
            record["charge_c"]
            for case in cases
            for record in case["arresters"]
            if record["name"] == slot
        )
        assert numbers.quantity(most, "C") in row


def test_one_alternative_with_arresters_needs_no_table(dairy: Findings) -> None:
    for entry in dairy["summary"]:
        if entry["axes"]["fitted"] != "both" or entry["axes"]["card"] != "class I":
            entry["arresters"] = []
    for case in dairy["cases"]:
        if case["axes"]["fitted"] != "none":
            case["arresters"] = []
    assert "CHARGE THROUGH" not in console.text(comparison.render(dairy))
