"""What is assumed of an arrester's leads, and of a fuse in them, where the file says nothing."""

from __future__ import annotations

from collections.abc import Iterator

from surgesim.physics.fuses import VOLTAGE_DROP
from surgesim.reading.quantities import CURRENT, RESISTANCE, format_quantity, parse
from surgesim.reading.tree import Mapping, Scalar, Tree

Filled = Iterator[tuple[tuple[str, ...], str | Tree, str]]

PER_METRE = "1 uH/m"
COUPLING = "0.15 uH/m"
FUSE_INDUCTANCE = "100 nH"

LEADS = f"arrester leads {PER_METRE} (common practice, no source)"
HALVES = f"halves of a V coupled by {COUPLING}, the conductors tied together (a guess)"
FUSES = (
    f"fuses drop {VOLTAGE_DROP:g} V at their rated current and have {FUSE_INDUCTANCE} with their"
    " base (guesses)"
)


def inductance(tree: Mapping) -> Filled:
    """Of the leads of a slot that has one without a section."""
    for name, slot in _slots(tree):
        leads = slot.entries.get("leads")
        if isinstance(leads, Mapping) and "inductance" not in leads.entries:
            wanted = {"line section"} | ({"earth section"} if "earth" in leads.entries else set())
            if not wanted <= leads.entries.keys():
                yield ("arresters", name, "leads", "inductance"), PER_METRE, name


def coupling(tree: Mapping) -> Filled:
    """Between the halves of leads that are wired as a V."""
    for name, slot in _slots(tree):
        leads = slot.entries.get("leads")
        wired = (slot.entries.get(key) for key in ("wiring", "earth wiring"))
        if any(isinstance(way, Scalar) and way.text == "V" for way in wired) and (
            isinstance(leads, Mapping) and "coupling" not in leads.entries
        ):
            yield ("arresters", name, "leads", "coupling"), COUPLING, name


def fuse(tree: Mapping) -> Filled:
    """Resistance and inductance of a fuse; one that is named by its rating alone becomes a form."""
    for name, slot in _slots(tree):
        given = slot.entries.get("fuse")
        if isinstance(given, Scalar):
            given = Mapping({"rating": given}, {"rating": given.spot}, given.spot)
        elif not isinstance(given, Mapping):
            continue
        missing = {
            key: text
            for key, text in (("resistance", _resistance(given)), ("inductance", FUSE_INDUCTANCE))
            if key not in given.entries
        }
        if missing:
            entries = {key: Scalar(text, given.spot) for key, text in missing.items()}
            keys = dict.fromkeys(missing, given.spot)
            whole = Mapping({**given.entries, **entries}, {**given.keys, **keys}, given.spot)
            yield ("arresters", name, "fuse"), whole, name


def _resistance(given: Mapping) -> str:
    """Of a fuse by its rated current; whatever is wrong with that the schema says."""
    rating = given.entries.get("rating")
    words = rating.text.split(maxsplit=1) if isinstance(rating, Scalar) else []
    try:
        amps = parse(words[1], CURRENT) if len(words) == 2 else 0.0
    except ValueError:
        amps = 0.0
    ohms = VOLTAGE_DROP / amps if amps > 0.0 else 1e-3
    return format_quantity(float(f"{ohms:.2g}"), RESISTANCE)


def _slots(tree: Mapping) -> Iterator[tuple[str, Mapping]]:
    slots = tree.entries.get("arresters")
    for name, slot in slots.entries.items() if isinstance(slots, Mapping) else ():
        if isinstance(slot, Mapping):
            yield name, slot
