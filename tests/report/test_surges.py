"""The table of surges."""

from types import SimpleNamespace
from typing import Any

from surgesim.report import comparison, console, tables

Findings = dict[str, Any]


def section(text: str) -> list[str]:
    """The lines of the table, blanks folded."""
    lines = text[text.index("SURGES  (as measured") :].splitlines()[1:]
    end = next((i for i, line in enumerate(lines) if not line.strip()), len(lines))
    return [" ".join(line.split()) for line in lines[:end]]


def test_each_surge_has_its_own_figures_and_its_own_result(dairy: Findings) -> None:
    lines = section(console.text(comparison.render(dairy)))
    assert lines[0] == "peak T1 T2 steepest charge W/R"
    assert lines[1] == "frame struck, first stroke share: Heidler"
    assert lines[2] == "+5.0 kA 10 us 350 us 810 A/us 2.5 C 6.2 kJ/ohm"
    steep = lines.index("frame struck, steep share: Heidler")
    assert lines[steep + 1] == "+2.5 kA 1.0 us 200 us 4.1 kA/us 0.72 C 900 J/ohm"


def test_the_verdicts_under_each_surge_and_the_worst_surge_are_counted(dairy: Findings) -> None:
    text = " ".join(section(console.text(comparison.render(dairy))))
    worst = [entry["worst"]["surge"] for entry in dairy["summary"]]
    for surge in ("frame struck, first stroke share", "frame struck, steep share"):
        own = text[text.index(surge) :]
        assert f"it is the worst surge for {worst.count(surge)}." in own
    assert "Of 14 alternatives under it: holds" in text


def test_a_single_wiring_names_the_terminal_and_the_worst_surge(kit: SimpleNamespace) -> None:
    text = " ".join(section(console.text(tables.render(kit.build_single()))))
    assert "Worst under it: inverter DC input, plus to minus: holds, margin 33 %." in text
    steep = text[text.index("frame struck, steep share") :]
    assert "plus to pe: holds, margin 36 %; it is the worst surge." in steep


def test_one_surge_is_not_called_the_worst_of_one(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    cases = [case for case in findings["cases"] if "steep" in case["surge"]]
    text = console.text(tables.render(kit.assemble(findings["axes"], cases)))
    assert "the worst surge" not in text


def test_both_polarities_have_a_row_each(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    figures = findings["cases"][0]["surge_figures"]
    findings["cases"][0]["surge_figures"] = {**figures, "peak": -figures["peak"]}
    lines = section(console.text(tables.render(findings)))
    assert lines[2].startswith("-5.0 kA")
    assert lines[3].startswith("+5.0 kA")


def test_a_voltage_says_whose_it_is(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    for case in findings["cases"]:
        volts = {"unit": "V", "charge_c": None, "specific_energy_j_per_ohm": None}
        case["surge_figures"] = {**case["surge_figures"], **volts}
    text = console.text(tables.render(findings))
    assert "A voltage is the source's own" in " ".join(text.split())
    kit.assert_fits(text)


def test_a_generator_is_named_and_shown_open_and_shorted(kit: SimpleNamespace) -> None:
    findings = kit.build_single()
    generator = {
        "name": "combination wave 12 ohm", "charge_v": 6364.0, "short_peak_a": 499.7,
        "short_t1_s": 2.687e-6, "short_t2_s": 21.7e-6, "short_charge_c": 0.0132,
        "short_specific_energy_j_per_ohm": 4.084,
    }  # fmt: skip
    open_figures = {
        "formula": "double exponential", "peak": 6e3, "unit": "V", "t1_s": 1.203e-6,
        "t2_s": 50.03e-6, "charge_c": None, "specific_energy_j_per_ohm": None,
        "steepest_per_s": 15.2e9, "generator": generator,
    }  # fmt: skip
    for case in findings["cases"]:
        case["surge_figures"] = open_figures
    text = console.text(tables.render(findings))
    lines = section(text)
    assert lines[1] == "frame struck, first stroke share: combination wave 12 ohm"
    assert lines[2] == "open +6.0 kV 1.2 us 50 us 15.2 kV/us - -"
    assert lines[3] == "short +500 A 2.7 us 21.7 us - 0.013 C 4.1 J/ohm"
    kit.assert_fits(text)
