"""Random installations, valid by construction, for attacks on the whole chain.

A tree of places joined by cables, some with an electrode of their own, an array on one of them,
equipment and arresters on others, one surge. Numbers span what sites have, and a little more.
"""

from __future__ import annotations

import random
from typing import Any

CARDS = ("pv 600 class II", "pv 1000 class II", "pv 1000 class I", "pv 1200 class II")
SHAPES = ("10/350", "1/200", "0.25/100", "8/20", "8/20 damped sine")
PE_CABLES = ("copper 6 mm2", "copper 16 mm2", "copper 50 mm2")
POLE_CABLES = ("pv pair 4 mm2", "pv pair 6 mm2", "pv pair 10 mm2")


def installation(seed: int, *, most: int = 12, rich: bool = False) -> dict[str, Any]:
    """The plain form of a random scenario of at most so many places; the same for a ``seed``.

    ``rich`` lays over it, each in one site of four, electrodes by their shape, ionising soil, bare
    bonds, routes in metal or in stretches, an array by its modules, and other surges.
    """
    plain = _Maker(random.Random(seed), most).scenario()
    return _Richer(random.Random(f"{seed} rich"), plain).scenario() if rich else plain


class _Maker:
    def __init__(self, chance: random.Random, most: int) -> None:
        self.chance = chance
        self.places = [f"place {k}" for k in range(chance.randint(2, most))]
        self.array = self.places[0]
        self.cables: dict[str, Any] = {}
        self.with_poles = {self.array}
        self.pe_joined = {place: {place} for place in self.places}

    def scenario(self) -> dict[str, Any]:
        """Everything, in the order in which one thing needs another."""
        self._wire()
        earths = self._earths()
        return {
            "surgesim": "1",
            "title": "random installation",
            "site": {"soil": f"{self._between(20, 3000):.0f} ohm m"},
            "places": {name: {} for name in self.places},
            "cables": self.cables,
            "earths": earths,
            "bonds": {"frame bond": self._bond()},
            "supply": {"array": self._supply()},
            "equipment": self._equipment(),
            "arresters": self._arresters(),
            "surges": {"surge": self._surge()},
            "arrester tolerance": self.chance.choice(("low", "nominal", "declared")),
            "polarity": self.chance.choice(("positive", "negative")),
        }

    def _between(self, low: float, high: float) -> float:
        """Log-uniform: sites differ by factors."""
        return float(low * (high / low) ** self.chance.random())

    def _wire(self) -> None:
        for k, place in enumerate(self.places[1:], start=1):
            parent = self.chance.choice(self.places[:k])
            length = f"{self._between(3, 200):.1f} m"
            poles = parent in self.with_poles and self.chance.random() < 0.7
            if poles:
                self.cables[f"poles {k}"] = self._cable(parent, place, length, POLE_CABLES)
                self.with_poles.add(place)
            if not poles or self.chance.random() < 0.5:
                pe = self._cable(parent, place, length, PE_CABLES)
                if poles and self.chance.random() < 0.6:
                    del pe["laying"]
                    pe["laid with"] = f"poles {k}"
                self.cables[f"pe {k}"] = pe
                self._join_pe(parent, place)

    def _join_pe(self, a: str, b: str) -> None:
        together = self.pe_joined[a] | self.pe_joined[b]
        for place in together:
            self.pe_joined[place] = together

    def _cable(self, a: str, b: str, length: str, types: tuple[str, ...]) -> dict[str, Any]:
        ends = [a, b]
        self.chance.shuffle(ends)
        if self.chance.random() < 0.5:
            laying = f"in air {self._between(0.1, 6):.2f} m high"
        else:
            laying = f"plastic duct 90 mm wide {self._between(0.3, 1.5):.2f} m deep"
        cable = {"from": ends[0], "to": ends[1], "length": length, "laying": laying}
        return {**cable, "type": self.chance.choice(types), "count": str(self.chance.randint(1, 3))}

    def _earths(self) -> dict[str, Any]:
        """One electrode in every group of bars that conductors join, and some more."""
        earths: dict[str, Any] = {}
        earthed: set[str] = set()
        for place in self.places:
            if place not in earthed or self.chance.random() < 0.3:
                earthed |= self.pe_joined[place]
                earths[f"earth of {place}"] = {
                    "at": place,
                    "bar": "pe",
                    "measured": f"{self._between(0.5, 500):.2f} ohm",
                    "inductance": f"{self._between(0.3, 10):.2f} uH",
                }
        return earths

    def _bond(self) -> dict[str, Any]:
        length = f"{self._between(0.2, 8):.2f} m"
        ends = {"from": f"{self.array} frame", "to": f"{self.array} pe"}
        return {**ends, "length": length, "type": self.chance.choice(PE_CABLES)}

    def _supply(self) -> dict[str, Any]:
        leaking = {"to": "frame", "each pole": f"{self._between(0.05, 20):.2f} Mohm"}
        pole = self.chance.choice(("plus", "minus"))
        earthed = {
            "to": "pe",
            "earthed pole": pole,
            "through": f"{self._between(0.1, 100):.1f} ohm",
        }
        return {
            "at": self.array,
            "voltage": f"{self._between(60, 950):.0f} V",
            "Isc at STC": f"{self._between(5, 200):.1f} A",
            "reference": self.chance.choice((leaking, earthed)),
            "state": self.chance.choice(("lit", "lit", "dark")),
        }

    def _equipment(self) -> dict[str, Any]:
        things: dict[str, Any] = {}
        for place in self.places:
            if place in self.with_poles and (place == self.array or self.chance.random() < 0.7):
                things[f"equipment at {place}"] = {
                    "at": place,
                    "plus to pe": self._pair(),
                    "minus to pe": self._pair(),
                }
        return things

    def _pair(self) -> dict[str, Any]:
        withstand = self._between(1.5, 12)
        return {
            "withstand": f"{withstand:.2f} kV",
            "flashover": f"{withstand * self._between(1.1, 3):.2f} kV",
            "from": "guess",
            "capacitance": f"{self._between(0.5, 300):.2f} nF",
        }

    def _arresters(self) -> dict[str, Any]:
        slots = {}
        for place in self.places:
            if place in self.with_poles and self.chance.random() < 0.5:
                slots[f"arrester at {place}"] = {
                    "at": place,
                    "across": "each pole to pe",
                    "wiring": self.chance.choice(("tee", "V")),
                    "leads": {
                        "line": f"{self.chance.choice((0.0, self._between(0.05, 3))):.2f} m",
                        "earth": f"{self.chance.choice((0.0, self._between(0.05, 3))):.2f} m to pe",
                    },
                    "card": self.chance.choice(CARDS),
                }
        return slots

    def _surge(self) -> dict[str, Any]:
        place = self.chance.choice(self.places)
        into = f"{place} pe" if self.chance.random() < 0.5 else f"{self.array} frame"
        surge = {"shape": self.chance.choice(SHAPES), "peak": f"{self._between(0.1, 40):.3f} kA"}
        if self.chance.random() < 0.3:
            place = self.chance.choice(sorted(self.with_poles))
            into = f"{place} {self.chance.choice(('plus', 'minus'))}"
            surge["channel"] = f"{self._between(50, 3000):.0f} ohm"
        return {**surge, "into": into, "returns": "remote earth"}


class _Richer:
    """Lays what a quarter of all sites have over a plain installation."""

    def __init__(self, chance: random.Random, plain: dict[str, Any]) -> None:
        self.chance, self.plain = chance, plain

    def scenario(self) -> dict[str, Any]:
        """The installation with what was drawn for it."""
        for lay in (
            self._shapes, self._ionising, self._bare_bond, self._stretches, self._metal,
            self._beside, self._modules, self._stroke_of_a_level, self._generator,
        ):  # fmt: skip
            if self.chance.random() < 0.25:
                lay()
        return self.plain

    def _between(self, low: float, high: float) -> float:
        return float(low * (high / low) ** self.chance.random())

    def _shapes(self) -> None:
        """Every electrode by its shape alone, as a chain."""
        for earth in self.plain["earths"].values():
            del earth["measured"]
            rod = {"length": "2.4 m", "diameter": "16 mm"}
            metres = f"{self._between(14, 60):.1f} m"
            shape = self.chance.choice(
                (
                    {"rod": rod},
                    {"rod": {**rod, "count": "3", "spacing": "4 m"}},
                    {"strip": {"length": metres, "depth": "0.6 m", "width": "30 mm"}},
                    {"ring": {"length": metres, "depth": "0.5 m", "diameter": "10 mm"}},
                )
            )
            earth.update({**shape, "inductance": "from its shape"})

    def _ionising(self) -> None:
        for earth in self.plain["earths"].values():
            if "measured" in earth:
                earth["ionises at"] = f"{self._between(200, 1000):.0f} kV/m"

    def _bare_bond(self) -> None:
        """A tape in the soil beside a cable that carries bars from place to place."""
        for name, cable in list(self.plain["cables"].items()):
            if name.startswith("pe "):
                self.plain["bonds"][f"tape {name}"] = {
                    "from": f"{cable['from']} pe", "to": f"{cable['to']} pe",
                    "length": cable["length"], "type": "copper 50 mm2",
                    "bare in soil": f"{self._between(0.3, 1.2):.2f} m",
                }  # fmt: skip
                return

    def _alone(self) -> list[str]:
        """Cables that lie by themselves."""
        cables = self.plain["cables"]
        shared = {cable.get("laid with") for cable in cables.values()}
        return [n for n, c in cables.items() if "laying" in c and n not in shared]

    def _stretches(self) -> None:
        for name in self._alone()[:1]:
            cable = self.plain["cables"][name]
            whole = float(cable["length"].split()[0])
            first = round(whole * self._between(0.2, 0.8), 1)
            if 1.0 < first < whole - 1.0:
                cable["laying"] = [
                    f"{first:.1f} m in air {self._between(0.3, 4):.2f} m high",
                    f"{whole - first:.1f} m plastic duct 90 mm wide 0.6 m deep",
                ]

    def _metal(self) -> None:
        """A run of poles on a tray, which is bonded where an electrode or a cable brings a bar."""
        bars = {earth["at"] for earth in self.plain["earths"].values()}
        for name in self._alone():
            cable = self.plain["cables"][name]
            if name.startswith("poles ") and isinstance(cable["laying"], str):
                ends = [end for end in (cable["from"], cable["to"]) if end in bars]
                if not ends:
                    continue
                cable["laying"] = f"galvanised tray 200 mm {self._between(0.5, 5):.2f} m high"
                for end in ends:
                    self.plain["bonds"][f"tray at {end}"] = {
                        "from": f"{end} tray", "to": f"{end} pe", "length": "0.4 m",
                        "type": "copper 16 mm2",
                    }  # fmt: skip
                return

    def _beside(self) -> None:
        """Cables that lay in one bundle lie apart."""
        for cable in self.plain["cables"].values():
            host = self.plain["cables"].get(cable.get("laid with"))
            if host is not None and str(host["laying"]).startswith("in air"):
                cable["spacing"] = f"{self._between(0.05, 0.5):.2f} m"

    def _modules(self) -> None:
        array = self.plain["supply"]["array"]
        array["modules"] = {
            "Voc at STC": "45 V", "Voc coefficient": "-0.27 % per K", "Isc at STC": "13 A",
            "in series": str(self.chance.randint(2, 18)), "strings": str(self.chance.randint(1, 4)),
            "capacitance to frame": {"dry": "3 nF", "wet": "30 nF"},
        }  # fmt: skip
        array["surface"] = self.chance.choice(("dry", "wet"))
        del array["voltage"], array["Isc at STC"]
        self.plain["site"]["lowest air temperature"] = "-12 degC"

    def _stroke_of_a_level(self) -> None:
        surge = self.plain["surges"]["surge"]
        level = self.chance.choice(("I", "II", "III", "IV"))
        stroke = self.chance.choice(("first positive", "first negative", "subsequent"))
        surge["shape"] = f"LPL {level} {stroke}"
        del surge["peak"]
        surge["share"] = f"1/{self.chance.randint(8, 40)}"

    def _generator(self) -> None:
        """A combination wave between the array's pole and its frame in the place of the surge."""
        place = self.plain["supply"]["array"]["at"]
        coupling = self.chance.choice(("2 ohm", "12 ohm", "42 ohm", "direct"))
        self.plain["surges"]["surge"] = {
            "generator": f"combination wave {coupling}", "peak": f"{self._between(0.5, 6):.2f} kV",
            "into": f"{place} plus", "returns": f"{place} frame",
        }  # fmt: skip
