"""``surgesim models``: the cards, and what each works out to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from surgesim.cli.ending import Command, echo_json
from surgesim.cli.options import json_option, say
from surgesim.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from surgesim.catalogue.cards import AnyCard, SurgeShape, VaristorArrester

name_argument = click.argument("name")
file_option = click.option(
    "--file", "path", metavar="FILE", type=click.Path(path_type=Path),
    help="Take the cards from this file instead of the built-in ones.",
)  # fmt: skip


@click.group("models")
def command() -> None:
    """Model cards: arresters, cables, surge shapes; each number with its source."""


@command.command("list", cls=Command)
@file_option
@json_option
def list_cards(path: Path | None, *, as_json: bool) -> None:
    """List the cards by kind."""
    from surgesim.catalogue.described import card_rows

    rows = card_rows(_cards(path))
    if as_json:
        echo_json(rows)
        return
    from surgesim.report.console import show
    from surgesim.report.model_tables import render_list

    show(render_list(rows))


@command.command("show", cls=Command)
@name_argument
@file_option
@click.option(
    "--of", "scenario", metavar="SCENARIO", type=click.Path(path_type=Path),
    help="NAME is a cable, an earth or a bond of this scenario: print what it works out to.",
)  # fmt: skip
@click.option(
    "--plot", metavar="PICTURE", type=click.Path(path_type=Path),
    help="Draw it as well, into a .png or .svg.",
)  # fmt: skip
@click.option("--overwrite", is_flag=True, help="Replace a picture that is there.")
@json_option
def show_card(
    name: str,
    path: Path | None,
    scenario: Path | None,
    plot: Path | None,
    *,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Print every value of the card NAME with its source, and what it works out to.

    For a surge shape that is its measured figures. With --of, NAME is a cable, an earth or a
    bond of a scenario: its matrices and modes stretch by stretch, its resistance by its shape and
    as measured, its impedance over frequency.
    """
    if scenario is not None and path is not None:
        raise InputError.of("--of and --file do not go together: a scenario brings its own cards")
    if plot is not None:
        _require_new(plot, overwrite=overwrite)
    if scenario is not None:
        _show_part(name, scenario, plot, as_json=as_json)
        return
    from surgesim.catalogue.cards import SurgeGenerator, SurgeShape
    from surgesim.catalogue.described import card_fields
    from surgesim.studies.worked_out import generator, shape

    card = _card(name, path)
    fields = card_fields(card)
    figures = None
    if isinstance(card, SurgeShape):
        figures = shape(name, card)
    elif isinstance(card, SurgeGenerator):
        figures = generator(name, card)
    if plot is not None:
        _save(_figure(name, card), plot)
    if as_json:
        echo_json({"name": name, "fields": fields, "works_out_to": figures})
        return
    from surgesim.report.console import show
    from surgesim.report.model_tables import render_card
    from surgesim.report.worked_out import render_worked_out

    show(render_card(name, fields))
    if figures is not None:
        show(render_worked_out(figures))


def _show_part(name: str, scenario: Path, plot: Path | None, *, as_json: bool) -> None:
    from surgesim.scenario.file import load
    from surgesim.studies.worked_out import of_scenario

    record = of_scenario(load(scenario).all_cases, name)
    if plot is not None:
        from surgesim.report.figures import part

        _save(part(record), plot)
    if as_json:
        echo_json(record)
        return
    from surgesim.report.console import show
    from surgesim.report.worked_out import render_worked_out

    show(render_worked_out(record))


@command.command("plot", cls=Command)
@name_argument
@file_option
@click.option(
    "--out", metavar="PICTURE", type=click.Path(path_type=Path),
    help="Where to, .png or .svg [the card's name in this folder].",
)  # fmt: skip
@click.option("--overwrite", is_flag=True, help="Replace a picture that is there.")
def plot_card(name: str, path: Path | None, out: Path | None, *, overwrite: bool) -> None:
    """Draw the card NAME: an arrester's curve, a surge over time."""
    target = out or Path(name.replace("/", "-").replace(" ", "-") + ".png")
    _require_new(target, overwrite=overwrite)
    _save(_figure(name, _card(name, path)), target)


def _require_new(target: Path, *, overwrite: bool) -> None:
    if target.suffix.lower() not in (".png", ".svg"):
        raise InputError.of("expected a name ending in .png or .svg", file=str(target))
    if target.exists() and not overwrite:
        raise InputError.of("is there already", file=str(target), hint="--overwrite replaces it")


def _save(figure: Figure, target: Path) -> None:
    from surgesim.report.figures import save

    try:
        save(figure, target)
    except OSError as error:
        raise InputError.of(f"cannot be written: {error.strerror}", file=str(target)) from None
    say(f"drawn in {target}")


def _cards(path: Path | None) -> dict[str, AnyCard]:
    from surgesim.catalogue.library import built_in, read_cards

    return read_cards(path) if path is not None else built_in()


def _card(name: str, path: Path | None) -> AnyCard:
    from surgesim.reading.names import did_you_mean

    cards = _cards(path)
    if name not in cards:
        hint = did_you_mean(name, cards) or "'surgesim models list' shows them all"
        raise InputError.of(f"no card {name!r}", hint=hint)
    return cards[name]


def _figure(name: str, card: AnyCard) -> Figure:
    from surgesim.catalogue.cards import SurgeShape, VaristorArrester

    if isinstance(card, VaristorArrester):
        return _curve(name, card)
    if isinstance(card, SurgeShape):
        return _shape(name, card)
    raise InputError.of(
        f"a {card.kind} has nothing to draw", hint="'surgesim models show' tells it"
    )


def _curve(name: str, card: VaristorArrester) -> Figure:
    import numpy as np

    from surgesim.build.arrester_elements import varistor_law
    from surgesim.report.figures import varistor_curve

    largest = max(card.In.value, card.Imax.value if card.Imax else 0.0)
    current = np.geomspace(1e-5, largest, 400)
    return varistor_curve(
        current,
        varistor_law(card, "declared").voltage(current),
        name=f"{name}, at its declared level",
        level=card.Up.value,
        nominal_current=card.In.value,
        continuous=card.continuous,
    )


def _shape(name: str, card: SurgeShape) -> Figure:
    import numpy as np

    from surgesim.physics.waveforms import shape_figures
    from surgesim.report.figures import surge_shape

    waveform = card.waveform(1000.0)
    figures = shape_figures(waveform, kind=card.measured_as)
    end = 4 * (figures.tail or 2 * figures.time_to_peak)
    time = np.linspace(0.0, end, 20_001)
    return surge_shape(
        time,
        waveform.value(time),
        name=f"{name}, {waveform.formula}",
        unit="A" if card.measured_as == "current" else "V",
        front=figures.front,
        tail=figures.tail,
    )
