"""From the level printed on an arrester to what its terminal sees, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType

from surgesim.report import numbers
from surgesim.report.blocks import bullet, heading, paragraph
from surgesim.report.grouped import Rows, grouped_table
from surgesim.report.view import Record, View

TITLE = "From the label to the terminal"
ASIDE = "what each peak is made of, in its worst case"
NOTE = (
    "Each part is the difference of two runs by the second solver: the case as it is, then what"
    " stood on the wire taken out, then loops, then the arrester's leads; the last is read at the"
    " arrester itself. So the parts add up to the peak; in another order they differ a little."
    " A part with a minus takes off: at less than its rated current an arrester stays below its"
    " printed level, and what stood may have the other sign."
)


def table(view: View) -> Iterator[RenderableType]:
    """A group a terminal: the parts with the sum so far, the peak, the limit beside it."""
    told = view.findings["breakdown"]
    if not told["terminals"]:
        return
    yield heading(TITLE, aside=ASIDE)
    apart = [terminal for terminal in told["terminals"] if terminal["parts"] is not None]
    if apart:
        groups = [
            Rows(
                name=_name(terminal, view),
                aside=f", guarded by {terminal['guard']}",
                cells=rows(terminal),
                notes=[_range(terminal)],
            )
            for terminal in apart
        ]
        yield from grouped_table(["", "adds", "makes"], groups)
        yield paragraph(NOTE)
    for terminal in told["terminals"]:
        if terminal["parts"] is None:
            yield bullet(f"{_name(terminal, view)}: {terminal['reason']}")


def rows(terminal: Record) -> list[list[str]]:
    """The parts, each with what it adds and the sum up to it; then the limit."""
    cells, total = [], 0.0
    for part in terminal["parts"]:
        total += part["volts"]
        cells.append([words(part, terminal), _volts(part["volts"]), numbers.quantity(total, "V")])
    limit, asked = terminal["withstand_v"], terminal["asked_percent"]
    ask = f", {numbers.percentage(asked)} asked" if asked else ""
    cells.append([f"limit{ask}", "", numbers.stated(limit, "V")])
    return cells


def words(part: Record, terminal: Record) -> str:
    """A part's name, with the current where it is about that."""
    if "current" in part["what"]:
        return f"{part['what']}, {numbers.quantity(terminal['current_a'], 'A')}"
    return str(part["what"])


def _volts(volts: float) -> str:
    # what is a millionth of a kilovolt is rounding, not a part
    return numbers.signed(volts if abs(volts) >= 1e-3 else 0.0, "V")


def _range(terminal: Record) -> str:
    low, high = sorted((terminal["low_v"], terminal["declared_v"]))
    margin = 100.0 * (terminal["withstand_v"] / abs(terminal["peak_v"]) - 1.0)
    return (
        f"By the tolerance of the arresters {numbers.quantity(low, 'V')} to"
        f" {numbers.quantity(high, 'V')}; margin {numbers.margin(margin)},"
        f" {terminal['verdict']} ({terminal['case']}, {terminal['surge']})."
    )


def _name(terminal: Record, view: View) -> str:
    entries: Sequence[Record] = view.entries
    label = ""
    if len(entries) > 1:
        levels = [level for level in terminal["axes"].values() if level is not None]
        label = f"{', '.join(levels)}: "
    return f"{label}{terminal['equipment']}, {terminal['pair']}"
