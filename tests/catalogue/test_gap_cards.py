"""Cards of spark gaps: those that ship keep their printed levels, and what cannot be is refused."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from surgesim.catalogue.cards import AnyCard, GapArrester
from surgesim.catalogue.library import built_in
from surgesim.physics.spark_gap import ramp_sparkover

CARD: TypeAdapter[AnyCard] = TypeAdapter(AnyCard)
GAPS = {name: card for name, card in built_in().items() if isinstance(card, GapArrester)}


def gap(**changes: str | None) -> dict[str, Any]:
    numbers = {
        "Uc": "255 V", "sparkover": "600 V", "Up": "1.5 kV", "glow voltage": "80 V",
        "arc voltage": "20 V", "In": "20 kA", "Imax": "40 kA", "capacitance": "10 pF",
        "inductance": "30 nH", **{key.replace("_", " "): value for key, value in changes.items()},
    }  # fmt: skip
    head = {"kind": "spark gap", "about": "one of a test", "test class": "II"}
    given = {key: value for key, value in numbers.items() if value is not None}
    return {**head, **{k: {"value": v, "source": "a test"} for k, v in given.items()}}


@pytest.mark.parametrize("name", GAPS)
def test_the_declared_gap_keeps_its_printed_level(name: str) -> None:
    card = GAPS[name]
    printed, slope = (card.Up, 5e9) if card.Up else (card.impulse_sparkover, 1e9)
    assert printed is not None
    assert ramp_sparkover(card.law("declared"), slope) == pytest.approx(printed.value, rel=1e-4)
    crests = [ramp_sparkover(card.law(level), slope) for level in ("low", "nominal", "declared")]
    assert crests == sorted(crests)
    # the static levels are 20 % apart (tubes, ITU-T K.12, from memory)
    levels = [card.law(level).sparkover / card.sparkover.value for level in ("low", "declared")]
    assert levels == pytest.approx([0.8, 1.2])


def test_there_are_gaps_for_a_neutral_and_for_data() -> None:
    assert {"n-pe gap 255", "gas tube 90", "gas tube 230"} <= GAPS.keys()
    assert GAPS["n-pe gap 255"].test_class == "I"


def test_a_gap_is_read_and_written_the_same() -> None:
    card = CARD.validate_python(gap())
    assert CARD.validate_python(card.written()) == card


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"Up": None}, "'impulse sparkover' (at 1 kV/us) or 'Up'"),
        ({"impulse_sparkover": "1.1 kV"}, "'impulse sparkover' (at 1 kV/us) or 'Up'"),
        ({"Imax": None}, "a class II arrester needs 'Imax'"),
        ({"Uc": "500 V"}, "it would fire by itself"),
        ({"Up": "700 V"}, "do not fit together"),
        ({"glow_voltage": "10 V"}, "do not fit together"),
    ],
)
def test_what_no_gap_has_is_refused(changes: dict[str, str | None], told: str) -> None:
    with pytest.raises(ValidationError) as caught:
        CARD.validate_python(gap(**changes))
    assert told in str(caught.value)


def test_follow_current_sets_how_fast_it_recovers() -> None:
    slow, quick = (CARD.validate_python(gap(follow_current=a)) for a in ("100 A", "3 kA"))
    assert isinstance(slow, GapArrester)
    assert isinstance(quick, GapArrester)
    # 4.3 us (100 A/Ifi)^0.75, computed
    assert slow.law("nominal").recovery == pytest.approx(4.3e-6)
    assert quick.law("nominal").recovery == pytest.approx(0.335e-6, rel=0.01)
