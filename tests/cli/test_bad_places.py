"""What is found only when a case is put together has its line too, and one clear message."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Invoke = Callable[..., Result]

SITE = """\
surgesim: 1
title: Field and house
site: {soil: 100 ohm m}
places: {field: {x: 0 m, y: 0 m}, house: {x: 20 m, y: 0 m}}
cables:
  run:
    {from: field, to: house, length: 24 m, type: pv pair 6 mm2, laying: in air 2 m high}
earths:
  rod:  {at: field, bar: pe, measured: 30 ohm, inductance: 2 uH}
  ring: {at: house, bar: pe, measured: 9 ohm, inductance: 2 uH}
bonds:
  frame bonding: {from: field frame, to: field pe, length: 1 m, type: copper 16 mm2}
supply:
  strings: {at: field, voltage: 600 V, Isc at STC: 10 A, reference: {to: frame, each pole: 2 Mohm}}
equipment:
  inverter: {at: house, plus to pe: {withstand: 4 kV, from: guess, capacitance: 10 nF}}
surges:
  struck: {shape: 1/200, peak: 1 kA, into: field pe, returns: remote earth}
"""

WRONG = {
    "electrodes closer than their size": (
        ("x: 20 m", "x: 0.4 m"),
        "10:3: earths.ring: stands 0.4 m from 'rod', closer than their size: of these resistances"
        " are hemispheres of 0.531 m and 1.77 m; describe both together as one",
    ),
    "cables that overlap in their duct": (
        ("in air 2 m high", "plastic duct 9 mm wide 0.7 m deep"),
        "7:65: cables.run.laying: 2 cables of up to 6.4 mm do not fit, close packed, in a duct of"
        " 9 mm inner diameter; lay it with room, such as 'laying: plastic duct 125 mm wide 0.7 m"
        " deep'",
    ),
    "a cable half in the soil": (
        ("2 m high", "2 mm high"),
        "7:65: cables.run.laying: a bundle of 2 cables with its middle 0.002 m high is not clear"
        " of the soil; lay it with room, such as 'laying: plastic duct 125 mm wide 0.7 m deep'",
    ),
    "a bond as short as thick": (
        ("length: 1 m", "length: 5 mm"),
        "12:52: bonds.frame bonding.length: 5 mm of a conductor 4.5 mm thick is no wire; give the"
        " length of the conductor from terminal to terminal",
    ),
}


@pytest.mark.parametrize("name", WRONG)
@pytest.mark.parametrize("command", ["run", "deck"])
def test_one_message_at_its_line(name: str, command: str, tmp_path: Path, invoke: Invoke) -> None:
    (old, new), expected = WRONG[name]
    assert old in SITE
    file = tmp_path / "site.yaml"
    file.write_text(SITE.replace(old, new), "utf-8")
    answer = invoke(command, file)
    assert answer.exit_code == 2
    assert answer.stderr == f"{file}:{expected}\n"
    assert answer.stdout == ""


def test_what_a_level_lays_over_is_told_where_the_level_stands(
    tmp_path: Path, invoke: Invoke
) -> None:
    levels = "worst of: {distance: {far: {}, near: {places: {house: {x: 0.4 m}}}}}\n"
    length = "worst of: {frame: {good: {}, none: {bonds: {frame bonding: {length: 5 mm}}}}}\n"
    for added, start in ((levels, "10:3: earths.ring: "), (length, "19:")):
        file = tmp_path / "site.yaml"
        file.write_text(SITE + added, "utf-8")
        answer = invoke("run", file)
        assert answer.exit_code == 2
        assert answer.stderr.startswith(f"{file}:{start}")


def test_models_show_tells_the_line_too(tmp_path: Path, invoke: Invoke) -> None:
    (old, new), expected = WRONG["cables that overlap in their duct"]
    file = tmp_path / "site.yaml"
    file.write_text(SITE.replace(old, new), "utf-8")
    answer = invoke("models", "show", "run", "--of", file)
    assert (answer.exit_code, answer.stderr) == (2, f"{file}:{expected}\n")


def test_a_surge_faster_than_is_resolved_is_told_with_the_limit(
    tmp_path: Path, invoke: Invoke
) -> None:
    card = """\
cards:
  fast:
    kind: surge shape
    about: Rises in less than a tenth of a microsecond
    measured as: current
    formula: heidler
    correction: {value: '0.993', source: 'invented for this test'}
    front: {value: 150 ns, source: 'invented for this test'}
    tail: {value: 50 us, source: 'invented for this test'}
    exponent: {value: '10', source: 'invented for this test'}
"""
    file = tmp_path / "site.yaml"
    file.write_text(SITE.replace("shape: 1/200", "shape: fast") + card, "utf-8")
    answer = invoke("run", file, "--quiet")
    told = " ".join(answer.stdout.split())
    assert "Surge 'struck' is faster than the model resolves: its front is" in told
    assert "which holds from 100 ns on" in told
