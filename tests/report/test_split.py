"""The printed split of a current that strikes a place."""

import copy
from types import SimpleNamespace
from typing import Any

from surgesim.report import console, tables

Findings = dict[str, Any]

SPLIT = {
    "place": "array", "into": "array frame", "moments_s": [1e-6, 1e-5, 1e-4],
    "injected_a": [0.5e3, 4.6e3, 4.1e3],
    "ways": [
        {"kind": "earth", "name": "array rods", "share": [0.23, 0.31, 0.18], "hand_rule": 0.5,
         "conductors": []},
        {"kind": "cable", "name": "field run", "share": [0.77, 0.69, 0.8203], "hand_rule": 0.5,
         "conductors": [{"name": "plus", "share": [0.38, 0.34, 0.41]},
                        {"name": "minus", "share": [0.39, 0.35, 0.4103]}]},
        {"kind": "other", "name": "other ways", "share": [0.0, 0.0, -0.0003],
         "hand_rule": None, "conductors": []},
    ],
    "earths": [
        {"name": "array rods", "place": "array", "share": [0.23, 0.31, 0.18]},
        {"name": "barn foundation", "place": "main board", "share": [None, 0.62, 0.82]},
    ],
}  # fmt: skip


def printed(text: str) -> list[str]:
    """The lines of the table, blanks folded."""
    lines = text[text.index("WHERE THE STRUCK CURRENT GOES") :].splitlines()
    end = next((i for i, line in enumerate(lines) if not line.strip()), len(lines))
    return [" ".join(line.split()) for line in lines[:end]]


def with_split(kit: SimpleNamespace, **cable: float) -> Findings:
    """The single wiring, its first surge split; ``cable`` is the cable's share at 10 us by case."""
    findings: Findings = kit.build_single()
    for case in findings["cases"]:
        if "steep" in case["surge"]:
            continue
        case["split"] = copy.deepcopy(SPLIT)
        if case["id"] in cable:
            case["split"]["ways"][1]["share"][1] = cable[case["id"]]
    return findings


def test_each_way_is_shown_beside_the_rule_of_thumb(kit: SimpleNamespace) -> None:
    lines = printed(console.text(tables.render(with_split(kit))))
    assert lines[:3] == [
        "WHERE THE STRUCK CURRENT GOES (in the case where most goes by the cables)",
        "way 1.0 us 10 us 100 us by hand in",
        "frame struck, first stroke share, into array frame, leaves array by",
    ]
    assert lines[3:8] == [
        "injected +500 A +4.6 kA +4.1 kA b",
        "earth array rods 23 % 31 % 18 % 50 % b",
        "cable field run 77 % 69 % 82 % 50 % b",
        "- plus 38 % 34 % 41 % 25 % b",
        "- minus 39 % 35 % 41 % 25 % b",
    ]
    assert lines[8:11] == [
        "and enters the soil by",
        "array rods, at array 23 % 31 % 18 % b",
        "barn foundation, at main board - 62 % 82 % b",
    ]


def test_other_ways_are_shown_where_they_take_something(kit: SimpleNamespace) -> None:
    findings = with_split(kit)
    assert "other ways" not in console.text(tables.render(findings))
    for case in findings["cases"]:
        if case["split"]:
            case["split"]["ways"][-1]["share"] = [0.12, 0.02, -0.004]
    lines = printed(console.text(tables.render(findings)))
    assert "other ways 12 % 2.0 % -0.4 % - b" in lines


def test_the_case_where_most_goes_by_the_cables_is_shown(kit: SimpleNamespace) -> None:
    findings = with_split(kit, c0002=0.95)
    text = console.text(tables.render(findings))
    assert any(line.startswith("cable field run 77 % 95 %") for line in printed(text))
    kit.assert_fits(text)


def test_one_case_alone_has_no_letters(kit: SimpleNamespace) -> None:
    findings = with_split(kit)
    lines = printed(console.text(tables.render_case(findings, "c0001")))
    assert lines[1] == "way 1.0 us 10 us 100 us by hand"
    assert "earth array rods 23 % 31 % 18 % 50 %" in lines


def test_without_a_struck_place_there_is_no_table(kit: SimpleNamespace) -> None:
    assert "STRUCK CURRENT" not in console.text(tables.render(kit.build_single()))
