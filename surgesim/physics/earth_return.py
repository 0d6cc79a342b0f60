"""Impedance of the current's way back through the soil, per metre of line.

The soil is a uniform half space; displacement current in it is neglected, which holds while
its conductivity is well above angular frequency times permittivity (1000 ohm m: up to about
a megahertz).
"""

from __future__ import annotations

import cmath
import math

import numpy as np

from surgesim.physics.constants import MU_0


def deri_depth(soil: float, frequency: float) -> complex:
    """Complex depth p of the mirror plane that stands for the soil under a line in air, m.

    ``soil`` in ohm m, ``frequency`` in Hz; p = sqrt(soil / (j omega mu0)).
    Deri, Tevan, Semlyen, Castanheira, IEEE Trans. PAS-100(8), 1981. Within 4 % of Carson's
    integral, and within 1 % in the impedance of a line.
    """
    return 1.0 / _propagation(soil, frequency)


def saad_ground_impedance(radius: float, depth: float, soil: float, frequency: float) -> complex:
    """Impedance of the soil outside a buried cylinder, ohm/m.

    ``radius`` of the cylinder and ``depth`` of its axis in m, ``soil`` in ohm m,
    ``frequency`` in Hz. With m = sqrt(j omega mu0 / soil)::

        Z = j omega mu0 / (2 pi) (K0(m radius) + 2 exp(-2 depth m) / (4 + (m radius)^2))

    Saad, Gaba, Giroux, IEEE Trans. Power Delivery 11(3), 1996: closed form of Pollaczek's
    integral.
    """
    if not 0.0 < radius < depth < math.inf:
        raise ValueError(
            f"expected a cylinder wholly in the soil but got radius={radius} m at depth={depth} m"
        )
    m = _propagation(soil, frequency)
    surface = 2.0 * cmath.exp(-2.0 * depth * m) / (4.0 + (m * radius) ** 2)
    return 1j * frequency * MU_0 * (bessel_k0(m * radius) + surface)


def bessel_k0(z: complex) -> complex:
    """Modified Bessel function K0 for \\|arg z\\| up to 45 degrees.

    The integral of exp(-z cosh t) over t > 0 (DLMF 10.32.9) by the trapezoidal rule, which
    for such an integrand is exact to rounding with this many points.
    """
    t = np.linspace(0.0, math.acosh(1.0 + 60.0 / abs(z)), 401)
    values = np.exp(-z * np.cosh(t))
    return complex(t[1] * (np.sum(values) - 0.5 * values[0]))


def _propagation(soil: float, frequency: float) -> complex:
    """Propagation constant of a plane wave in the soil, 1/m."""
    for name, value in {"soil": soil, "frequency": frequency}.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"expected a positive, finite {name} but got {name}={value}")
    return cmath.sqrt(2j * math.pi * frequency * MU_0 / soil)
