"""Pre-arcing energy of fuses: how much surge a fuse in front of an arrester carries.

A fuse element melts adiabatically under a surge: what counts is the integral of i squared, the
same that W/R is. Below its pre-arcing value the fuse stays whole.
"""

from __future__ import annotations

GG_PRE_ARCING: dict[float, tuple[float, float]] = {
    16.0: (300.0, 1e3),
    20.0: (500.0, 1.8e3),
    25.0: (1e3, 3e3),
    32.0: (1.8e3, 5e3),
    40.0: (3e3, 9e3),
    50.0: (5e3, 16e3),
    63.0: (9e3, 27e3),
    80.0: (16e3, 46e3),
    100.0: (27e3, 86e3),
    125.0: (46e3, 140e3),
    160.0: (86e3, 250e3),
    200.0: (140e3, 400e3),
    250.0: (250e3, 760e3),
    315.0: (400e3, 1.3e6),
    400.0: (760e3, 2.25e6),
    500.0: (1.3e6, 3.8e6),
    630.0: (2.25e6, 7.5e6),
}
"""Rated current of a gG fuse in A: the smallest and the largest pre-arcing I2t in A2s that its
standard allows it at 10 ms (IEC 60269-1, table of pre-arcing I2t of gG and gM, from memory).

A surge is over in less time, which makes the melting more nearly adiabatic and the smallest value
a little high at worst: no heat leaves the element in 10 ms that matters.
"""

VOLTAGE_DROP = 0.07
"""V across a gG fuse at its rated current: 4.5 W of a fuse of 63 A (a guess, within a third)."""
