"""Constants of nature, SI (CODATA 2018; mu0 in its pre-2019 closed form, equal to 1e-9)."""

from __future__ import annotations

import math

MU_0 = 4e-7 * math.pi
"""Permeability of free space, H/m."""

SPEED_OF_LIGHT = 299_792_458.0
"""In free space, m/s."""

EPSILON_0 = 1.0 / (MU_0 * SPEED_OF_LIGHT**2)
"""Permittivity of free space, F/m."""
