"""Water: density by temperature and salt, and how strongly it bends light."""

from __future__ import annotations

import math

from sim.errors import MaterialError

LOW_C, HIGH_C = 0.0, 40.0
HIGH_PPT = 42.0

AIR_INDEX = 1.000273  # at 15-25 C and one atmosphere, 589 nm; divides the index relative to vacuum
GLASS_INDEX = 1.52  # soda-lime float glass, from memory

# Tanaka et al. 2001, Metrologia 38:301-309, equation (1) and its constants
_TANAKA = (-3.983035, 301.797, 522528.9, 69.34881, 999.974950)

# Millero & Poisson 1981, Deep-Sea Res. 28A:625-629; UNESCO Tech. Papers in Marine Sci. 44, 1983, equations 13-14
_EOS_WATER = (999.842594, 6.793952e-2, -9.095290e-3, 1.001685e-4, -1.120083e-6, 6.536332e-9)
_EOS_A = (0.824493, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
_EOS_B = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
_EOS_C = 4.8314e-4

# IAPWS R9-97, Release on the Refractive Index of Ordinary Water Substance, coefficients a0-a7
_IAPWS = (
    0.244257733, 9.74634476e-3, -3.73234996e-3, 2.68678472e-4,
    1.58920570e-3, 2.45934259e-3, 0.900704920, -1.66626219e-2,
)  # fmt: skip
_IAPWS_UV, _IAPWS_IR = 0.2292020, 5.432937


def water_density_kg_m3(temperature_c: float, salinity_ppt: float = 0.0) -> float:
    """Density of fresh or salt water at one atmosphere, kg/m3.

    Fresh water after Tanaka 2001; with any salt EOS-80 together with its own pure water, so that
    both are as published. Where they meet, at no salt, the two differ by less than 0.01 kg/m3.

    Parameters
    ----------
    temperature_c : float
        0 to 40 degrees C. The scales of 1968 and 1990 are not told apart (0.003 kg/m3 at most).
    salinity_ppt : float
        0 to 42 g/kg.

    Raises
    ------
    MaterialError
        Outside these ranges.

    References
    ----------
    Tanaka et al. 2001, Recommended table for the density of water between 0 C and 40 C, Metrologia
    38:301-309; Millero & Poisson 1981, International one-atmosphere equation of state of seawater,
    Deep-Sea Research 28A:625-629.
    """
    _check(temperature_c, salinity_ppt)
    if salinity_ppt == 0.0:
        a1, a2, a3, a4, a5 = _TANAKA
        return a5 * (1.0 - (temperature_c + a1) ** 2 * (temperature_c + a2) / (a3 * (temperature_c + a4)))
    return (
        _polynomial(_EOS_WATER, temperature_c)
        + _polynomial(_EOS_A, temperature_c) * salinity_ppt
        + _polynomial(_EOS_B, temperature_c) * salinity_ppt * math.sqrt(salinity_ppt)
        + _EOS_C * salinity_ppt**2
    )


def water_index(temperature_c: float, salinity_ppt: float = 0.0) -> float:
    """Refractive index of water relative to air at 589 nm.

    Parameters
    ----------
    temperature_c : float
        0 to 40 degrees C.
    salinity_ppt : float
        0 to 42 g/kg.

    Raises
    ------
    MaterialError
        Outside these ranges.

    References
    ----------
    IAPWS R9-97, equation (1), divided by the index of air; salt by the salinity terms of Quan & Fry
    1995, Empirical equation for the index of refraction of seawater, Appl. Opt. 34:3477-3480,
    equation (3), from memory.
    """
    _check(temperature_c, salinity_ppt)
    wave2 = 1.0  # the reference wavelength is 589 nm itself
    density = water_density_kg_m3(temperature_c) / 1000.0
    warmth = (temperature_c + 273.15) / 273.15
    a0, a1, a2, a3, a4, a5, a6, a7 = _IAPWS
    refraction = density * (
        a0 + a1 * density + a2 * warmth + a3 * wave2 * warmth + a4 / wave2
        + a5 / (wave2 - _IAPWS_UV**2) + a6 / (wave2 - _IAPWS_IR**2) + a7 * density**2
    )  # fmt: skip
    fresh = math.sqrt((1.0 + 2.0 * refraction) / (1.0 - refraction)) / AIR_INDEX
    per_ppt = 1.779e-4 - 1.05e-6 * temperature_c + 1.6e-8 * temperature_c**2 + 0.01155 / 589.0
    return fresh + per_ppt * salinity_ppt


def _polynomial(coefficients: tuple[float, ...], variable: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * variable + coefficient
    return total


def _check(temperature_c: float, salinity_ppt: float) -> None:
    if not LOW_C <= temperature_c <= HIGH_C:
        raise MaterialError(f"water of {temperature_c:g} C: give a temperature of {LOW_C:g} to {HIGH_C:g} C.")
    if not 0.0 <= salinity_ppt <= HIGH_PPT:
        raise MaterialError(f"salinity {salinity_ppt:g} ppt: give 0 to {HIGH_PPT:g} ppt.")
