"""Cards: what is refused of the numbers on them, and what becomes of the others."""

from __future__ import annotations

import contextlib
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from surgesim.catalogue.cards import (
    CREST_TOLERANCE,
    SHAPES,
    AnyCard,
    SurgeShape,
    TextbookLine,
    VaristorArrester,
)
from surgesim.physics.varistor import fit_three_numbers
from surgesim.physics.waveforms import Step
from surgesim.reading.quantities import (
    AREA,
    CUBIC_RATE,
    CURRENT,
    LENGTH,
    NUMBER,
    RATE,
    RESISTANCE_PER_LENGTH,
    TIME,
    VOLTAGE,
    Dimension,
    format_quantity,
)

CARD: TypeAdapter[AnyCard] = TypeAdapter(AnyCard)


def sourced(text: str) -> dict[str, str]:
    return {"value": text, "source": "a test"}


def arrester(**changes: str) -> dict[str, Any]:
    numbers = {
        "Ucpv": "1000 V", "reference voltage": "1250 V", "In": "20 kA", "Imax": "40 kA",
        "Up": "4 kV", "capacitance": "1 nF", "inductance": "30 nH",
        **{key.replace("_", " "): value for key, value in changes.items()},
    }  # fmt: skip
    head = {"kind": "varistor arrester", "about": "one of a test", "test class": "II"}
    return {**head, **{key: sourced(value) for key, value in numbers.items()}}


def shape(formula: str, **constants: str) -> dict[str, Any]:
    head = {"kind": "surge shape", "about": "one of a test", "measured as": "current"}
    numbers = {key.replace("_", " "): sourced(value) for key, value in constants.items()}
    return {**head, "formula": formula, **numbers}


def test_a_card_is_read_and_written_the_same() -> None:
    card = CARD.validate_python(arrester())
    assert card.written()["Up"] == {"value": "4 kV", "source": "a test"}
    assert CARD.validate_python(card.written()) == card


@pytest.mark.parametrize("key", ["Ucpv", "reference voltage", "In", "Imax", "Up", "capacitance"])
@pytest.mark.parametrize("source", ["", "  ", "me", None])
def test_no_number_without_a_source(key: str, source: str | None) -> None:
    card = arrester()
    del card[key]["source"]
    if source is not None:
        card[key]["source"] = source
    with pytest.raises(ValidationError):
        CARD.validate_python(card)


# The recipe needs 1.3 ln(In/1 mA) / ln(0.95 Up/V1) <= 100 with Up/1.1 for Up: for 20 kA that is
# 0.95 Up / (1.1 V1) > exp(0.2185) = 1.2443, so Up/V1 above 1.4408.
@pytest.mark.parametrize(("ratio", "fits"), [(1.45, True), (1.43, False), (1.0, False)])
def test_up_must_leave_room_above_the_reference_voltage(ratio: float, fits: bool) -> None:
    card = arrester(Up=f"{1250 * ratio:.6g} V")
    if fits:
        CARD.validate_python(card)
        return
    with pytest.raises(ValidationError, match="do not fit together"):
        CARD.validate_python(card)


def test_a_second_level_bends_the_curve() -> None:
    plain, bent = (CARD.validate_python(arrester(**more)) for more in (
        {}, {"second_current": "5 kA", "second_level": "2.9 kV"},
    ))  # fmt: skip
    assert isinstance(plain, VaristorArrester)
    assert isinstance(bent, VaristorArrester)
    assert 1.1 * float(bent.law().voltage(5e3)) == pytest.approx(2900.0, rel=1e-6)
    assert 1.1 * float(bent.law().voltage(20e3)) == pytest.approx(4000.0, rel=1e-6)
    assert 1.1 * float(plain.law().voltage(5e3)) != pytest.approx(2900.0, rel=0.01)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"second_current": "5 kA"}, "'second level' goes with 'second current'"),
        ({"second_current": "5 kA", "second_level": "4.2 kV"}, "do not fit together"),
    ],
)
def test_a_second_level_that_cannot_be_is_refused(more: dict[str, str], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        CARD.validate_python(arrester(**more))


def test_a_nominal_current_below_the_reference_current_is_no_varistor() -> None:
    with pytest.raises(ValidationError, match="do not fit together"):
        CARD.validate_python(arrester(In="0.5 mA"))


def test_a_card_that_loads_has_a_law() -> None:
    card = CARD.validate_python(arrester())
    assert isinstance(card, VaristorArrester)
    law = fit_three_numbers(
        reference_voltage=card.reference_voltage.value,
        nominal_current=card.In.value,
        level=card.Up.value / 1.1,
    )
    assert float(law.voltage(20e3)) == pytest.approx(4000 / 1.1, rel=1e-6)


def test_every_formula_on_a_card_becomes_its_waveform() -> None:
    cards = {
        "heidler": shape("heidler", correction="0.93", front="19 us", tail="485 us", exponent="10"),
        "double exponential": shape(
            "double exponential", correction="1.03725", decay_rate="14659.1 per s",
            rise_rate="2.46893 per us",
        ),
        "cubic exponential": shape(
            "cubic exponential", cubic_rate="0.01243 per us3", tail="3.911 us"
        ),
        "damped sine": shape(
            "damped sine", correction="0.6152", tail="24.022 us",
            angular_frequency="0.120023 per us",
        ),
        "ring wave": shape(
            "ring wave", correction="1.590", front="0.533 us", tail="9.788 us",
            angular_frequency="0.6283 per us",
        ),
        "ramp": shape("ramp", front="1 us"),
        "step": shape("step", front="1 ns"),
    }  # fmt: skip
    assert cards.keys() == SHAPES.keys()
    for formula, data in cards.items():
        card = CARD.validate_python(data)
        assert isinstance(card, SurgeShape)
        wave = card.waveform(5e3)
        assert isinstance(wave, SHAPES[formula][0])
        assert wave.peak == 5e3
        crest = float(np.max(wave.value(np.geomspace(1e-12, 1e-2, 20_000))))
        assert crest == pytest.approx(5e3, rel=CREST_TOLERANCE)


def test_a_constant_reaches_the_parameter_it_is_named_for() -> None:
    card = CARD.validate_python(shape("step", front="3 ns"))
    assert isinstance(card, SurgeShape)
    assert card.waveform(-7.0) == Step(peak=-7.0, rise=3e-9)


def test_a_textbook_line_has_one_core() -> None:
    data = {"kind": "textbook line", "about": "one of a test", "cores": ["plus"],
            "surge impedance": sourced("400 ohm"), "velocity": sourced("300 m/us")}  # fmt: skip
    card = CARD.validate_python(data)
    assert isinstance(card, TextbookLine)
    assert (card.surge_impedance.value, card.velocity.value) == (400.0, 3e8)


def anything(dimension: Dimension) -> st.SearchStrategy[str]:
    """Quantities from far too small to far too large."""
    exponents = st.floats(-60, 40)
    return exponents.map(lambda power: format_quantity(10.0**power, dimension))


VARISTORS = st.fixed_dictionaries(
    {
        "Ucpv": anything(VOLTAGE), "reference_voltage": anything(VOLTAGE),
        "In": anything(CURRENT), "Imax": anything(CURRENT), "Up": anything(VOLTAGE),
    }
)  # fmt: skip
CONSTANTS = {
    "correction": NUMBER, "front": TIME, "tail": TIME, "exponent": NUMBER, "decay rate": RATE,
    "rise rate": RATE, "cubic rate": CUBIC_RATE, "angular frequency": RATE,
}  # fmt: skip


def settle(data: dict[str, Any]) -> None:
    """A card is taken or refused; nothing else may come of it, not even a warning."""
    with contextlib.suppress(ValidationError):
        CARD.validate_python(data)


@given(numbers=VARISTORS)
def test_varistors_of_any_numbers(numbers: dict[str, str]) -> None:
    settle(arrester(**numbers))


@given(data=st.data(), formula=st.sampled_from(list(SHAPES)))
def test_shapes_of_any_numbers(data: st.DataObject, formula: str) -> None:
    keys = SHAPES[formula][1].values()
    settle(shape(formula, **{key: data.draw(anything(CONSTANTS[key])) for key in keys}))


@given(section=anything(AREA), diameter=anything(LENGTH), ohms=anything(RESISTANCE_PER_LENGTH))
def test_cables_of_any_numbers(section: str, diameter: str, ohms: str) -> None:
    settle({"kind": "cable", "about": "one of a test", "cores": ["pe"],
            "section": sourced(section), "core diameter": sourced(diameter),
            "permittivity": sourced("2.5"), "resistance": sourced(ohms)})  # fmt: skip
