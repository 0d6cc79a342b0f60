"""The detailed tables of a run."""

import re
from types import SimpleNamespace
from typing import Any

import pytest

from surgesim.report import console, numbers, tables

Findings = dict[str, Any]


def printed(findings: Findings) -> str:
    return console.text(tables.render(findings))


def row(text: str, start: str) -> str:
    line = next(line for line in text.splitlines() if line.strip().startswith(start))
    return " ".join(line.split())


def test_a_terminal_row(kit: SimpleNamespace) -> None:
    text = printed(kit.build_single())
    assert "TERMINALS  (the worst of 4 cases)" in text
    assert row(text, "plus to pe ") == "plus to pe holds +4.4 kV 1.3 us 62 us 6.0 kV 36 % 1.36 a"
    assert (
        row(text, "minus to frame ")
        == "minus to frame holds -3.3 kV 1.3 us 62 us 8.0 kV 145 % 2.45 a"
    )
    assert "a: frame struck, steep share; array earth wet" in text


def test_fired_insulation_shows_no_peak(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    case = findings["cases"][0]
    kit.fire(case["terminals"][0], 12e3, 0.61e-6)
    text = console.text(tables.render_case(findings, case["id"]))
    assert row(text, "plus to pe ") == "plus to pe exceeded fires 12 kV 0.61 us - 6.0 kV - -"
    assert "'at' is when it fires" in text


def test_a_void_voltage_shows_no_margin_and_what_it_stands_on(kit: SimpleNamespace) -> None:
    findings = kit.build_dairy()
    findings["summary"] = [findings["summary"][10]]
    text = printed(findings)
    assert row(text, "plus to frame ") == "plus to frame void +2.2 kV 1.3 us 62 us 8.0 kV - - a"
    flowing = re.sub(r"\s+", " ", text)
    assert "plus to frame and minus to frame: void, arrester array box (plus to pe)" in flowing


def test_the_bar_remote_earth_and_the_origin_of_limits(kit: SimpleNamespace) -> None:
    text = printed(kit.build_single())
    assert "inverter DC input, at barn wall" in text
    rows = text[text.index("THE SAME TERMINALS") :]
    assert row(rows, "plus to pe ") == "plus to pe +4.4 kV +13.6 kV +437 V a"
    assert "plus to minus: highest voltage 1.1 kV, from: guess" in text
    assert "withstand 6.0 kV, from: table, IEC 62109-1 Table 16" in re.sub(r"\s+", " ", text)


def test_an_arrester_row(kit: SimpleNamespace) -> None:
    text = printed(kit.build_single())
    assert "array box, at array: pv 1000 class I" in text
    rows = text[text.index("ARRESTERS\n") :]
    assert (
        row(rows, "minus to pe ")
        == "minus to pe holds -430 A 0.011 C 23.1 J 0.0034 -2.1 kV 3 % peak b"
    )


def test_earths_and_the_numerical_record(kit: SimpleNamespace) -> None:
    text = printed(kit.build_single())
    assert row(text, "array rods") == "array rods 70 ohm +77 kV +1.1 kA 0.54 C c"
    flowing = re.sub(r"\s+", " ", text)
    assert "front: energy closes to 0.04 %; step at most 8.0 ns to 12 us, up to 1740" in flowing
    assert "as one pi section: field run" in flowing


def test_what_an_earths_shape_gives_stands_beside_what_counts(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    assert "by shape" not in printed(findings)
    for case in findings["cases"]:
        case["earths"][0]["from_shape_ohm"] = 36.867
    assert row(printed(findings), "array rods").startswith("array rods 70 ohm 36.87 ohm +77 kV")


def test_the_worst_energy_closure_of_all_cases_is_shown(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    findings["cases"][2]["energy_closure"] = {"front": -0.0123, "tail": None}
    findings["cases"][2]["windows"]["front"]["step_s"] = 2e-9
    findings["cases"][2]["notes"] = ["step halved once"]
    text = re.sub(r"\s+", " ", printed(findings))
    assert "front: energy closes to 1.2 %; step at most 2.0 ns ... 8.0 ns" in text
    assert "- step halved once" in text
    for case in findings["cases"]:
        case["energy_closure"] = {"front": 1.4e-9, "tail": None}
    text = printed(findings)
    assert "front: energy closes to better than 0.001 %" in text
    assert "tail: energy not balanced" in text


def test_a_voltage_longer_than_its_test_wave_is_flagged(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    assert "A withstand is proved with 1.2/50" in printed(findings)
    for terminal in findings["summary"][0]["terminals"]:
        terminal["above_half_s"] = 12e-6
    assert "A withstand is proved with 1.2/50" not in printed(findings)


def test_one_case_alone(dairy: Findings) -> None:
    text = console.text(tables.render_case(dairy, "c0043"))
    assert text.startswith("Case c0043: frame struck, steep share\n")
    assert "fitted both, card class II, bond none, array earth wet" in text
    assert "WORST CASES" not in text
    with pytest.raises(KeyError, match="c9999"):
        tables.render_case(dairy, "c9999")


def test_every_alternative_of_a_run_has_its_tables(dairy: Findings) -> None:
    text = printed(dairy)
    assert text.count("TERMINALS  (the worst of 4 cases)") == 14
    assert "FITTED BOTH, CARD CLASS I, BOND NONE  (holds)" in text


@pytest.mark.parametrize("size", [1e-9, 1e-3, 1.0, 999.9, 1e6])
def test_it_fits_the_page_whatever_the_numbers(kit: SimpleNamespace, size: float) -> None:
    findings = kit.build_single()
    long = "x" * 60
    for case in findings["cases"]:
        for terminal in case["terminals"]:
            terminal["peak_v"] *= -size
            terminal["equipment"] = f"{terminal['equipment']} {long}"[:60]
            terminal["above_half_s"] = 123.4e-6
            kit.rate(terminal)
        for arrester in case["arresters"]:
            for key in ("peak_a", "charge_c", "energy_j", "specific_energy_j_per_ohm"):
                arrester[key] *= -12.34 * size
            arrester["share_of_rating"] *= size
            arrester["rated_by"] = "specific_energy"
            arrester["element"] = "l1 to the neutral conductor of the sub-board"
        for earth in case["earths"]:
            earth["name"] = long
    findings = kit.assemble(findings["axes"], findings["cases"])
    page, alone = printed(findings), console.text(tables.render_case(findings, "c0001"))
    kit.assert_fits(page)
    kit.assert_fits(alone)
    rows = [line for line in alone.splitlines() if re.search(r" (holds|exceeded) ", line)]
    for record in findings["cases"][0]["arresters"]:
        cells = [
            record["verdict"],
            numbers.signed(record["peak_a"], "A"),
            numbers.quantity(record["charge_c"], "C"),
            numbers.quantity(record["energy_j"], "J"),
            numbers.in_thousands(record["specific_energy_j_per_ohm"]),
            numbers.share(record["share_of_rating"]),
        ]
        assert any(all(cell in line for cell in cells) for line in rows)


def test_every_letter_is_explained(dairy: Findings) -> None:
    for part in printed(dairy).split("TERMINALS  (")[1:]:
        rows, _, legend = part.partition("WORST CASES")
        used = set(re.findall(r"(?m) +([a-z])$", rows))
        explained = set(re.findall(r"(?m)^  ([a-z]): ", legend.split("\n\n")[0]))
        assert used
        assert used == explained
