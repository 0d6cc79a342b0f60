"""Charge and specific energy that go with a rated impulse current.

Two standard impulses rate arresters: 10/350 (class I, Iimp) and 8/20 (class II, In and Imax).
"""

from __future__ import annotations

import math

CUBIC_SCALE = 0.01243e18
"""A of i = A Ip t^3 exp(-t/tau) for 8/20, 1/s^3 (IEEE Std C62.41.2-2002)."""

CUBIC_TIME_CONSTANT = 3.911e-6
"""tau of the same formula, s."""


def class_one_charge(impulse_current: float) -> float:
    """Charge in C of a class I impulse of ``impulse_current`` A: Q = 0.5 ms Iimp.

    IEC 61643-11:2011, table of preferred values: Q in As is half of Iimp in kA.
    """
    return 0.5e-3 * impulse_current


def class_one_specific_energy(impulse_current: float) -> float:
    """W/R in J/ohm of a class I impulse of ``impulse_current`` A: 0.25 ms Iimp^2.

    IEC 61643-11:2011, table of preferred values: W/R in kJ/ohm is Iimp^2 / 4 in kA^2.
    """
    return 0.25e-3 * impulse_current**2


def eight_twenty_charge(peak: float) -> float:
    """Charge in C of an 8/20 current of ``peak`` A: 6 A tau^4 Ip, 17.449 us times the peak.

    Integral of the formula of IEEE Std C62.41.2-2002.
    """
    return math.factorial(3) * CUBIC_SCALE * CUBIC_TIME_CONSTANT**4 * peak


def eight_twenty_specific_energy(peak: float) -> float:
    """W/R in J/ohm of an 8/20 current of ``peak`` A: 720 A^2 (tau/2)^7 Ip^2, 12.164 us Ip^2.

    Integral of the square of the formula of IEEE Std C62.41.2-2002.
    """
    return math.factorial(6) * CUBIC_SCALE**2 * (CUBIC_TIME_CONSTANT / 2.0) ** 7 * peak**2
