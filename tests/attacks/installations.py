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


def installation(seed: int, *, most: int = 12) -> dict[str, Any]:
    """The plain form of a random scenario of at most so many places; the same for a ``seed``."""
    return _Maker(random.Random(seed), most).scenario()


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
