"""Glass of the base pane: stiffness, strength, and the tension it may carry for good."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.errors import MaterialError
from sim.materials.values import COMPUTED, JUDGEMENT, MEMORY, PUBLISHED, Value, exactly, look_up

EN_572 = "EN 572-1 product data on a glass processor's data sheet"
EN_16612 = "EN 16612:2019, Glass in building: determination of the load resistance of glass panes"
STRENGTHS = "table of CEN/TS 19100-1:2021 citing EN 572-2, EN 1863 and EN 12150, secondary copy"
LIMITS = "chosen within EN 16612, DIN 18008-1 and ASTM E1300 for permanent load without load factor (from memory)"

Zone = Literal["surface", "edge", "abraded"]


@dataclass(frozen=True, slots=True)
class Glass:
    """One kind of glass.

    Attributes
    ----------
    density_kg_m3, youngs_pa, poisson : Value
    f_gk_mpa : Value
        Characteristic bending strength, short load.
    judged_as : str or None
        The kind whose limits are used; None: no verdict is given.
    surface_mpa, edge_mpa, abraded_mpa : Value
        Largest permanent tension under the sum of water, stone and ground, without load factor: on a
        sound surface; within `EDGE_ZONE_THICKNESSES` thicknesses of an edge; where sand, gravel or
        stone touches bare glass or a scratch is seen.
    note : str
    """

    name: str
    density_kg_m3: Value
    youngs_pa: Value
    poisson: Value
    f_gk_mpa: Value
    judged_as: str | None
    surface_mpa: Value
    edge_mpa: Value
    abraded_mpa: Value
    note: str

    def limit_mpa(self, zone: Zone = "surface") -> float:
        """The permanent tension allowed in a zone, MPa.

        Raises
        ------
        MaterialError
            For glass that gets no verdict.
        """
        if self.judged_as is None:
            raise MaterialError(f"{self.name} glass has no limit: {self.note}.")
        return {"surface": self.surface_mpa, "edge": self.edge_mpa, "abraded": self.abraded_mpa}[zone].default


def _glass(name: str, f_gk_mpa: float, judged_as: str | None, note: str) -> Glass:
    return Glass(
        name,
        density_kg_m3=exactly(2500, "kg/m3", EN_572, PUBLISHED),
        youngs_pa=exactly(70e9, "Pa", EN_572, PUBLISHED),
        # the higher of the two in use raises the moment slightly
        poisson=Value(0.23, 0.20, 0.23, "1", "0.20 in " + EN_572 + "; 0.23 in EN 16612 and DIN 18008", MEMORY),
        f_gk_mpa=exactly(f_gk_mpa, "MPa", STRENGTHS, PUBLISHED),
        judged_as=judged_as,
        surface_mpa=Value(5.0, 4.63, 8.33, "MPa", LIMITS, JUDGEMENT),
        edge_mpa=Value(4.0, 4.0, 5.1, "MPa", LIMITS + "; edge factor 0.8", JUDGEMENT),
        abraded_mpa=Value(3.2, 3.2, 3.22, "MPa", LIMITS + "; surface factor 0.6", JUDGEMENT),
        note=note,
    )


_ROWS = (
    _glass("annealed", 45, "annealed", "ordinary float glass"),
    _glass("unknown", 45, "annealed", "judged as annealed, the weakest of them"),
    _glass("heat-strengthened", 70, "annealed", "judged as annealed: its strength cannot be told by eye"),
    _glass("toughened", 120, None, "it cannot be verified by eye and breaks completely; no verdict is given on it"),
)

GLASSES: dict[str, Glass] = {row.name: row for row in _ROWS}

EDGE_ZONE_THICKNESSES = 2.0  # judgement
MARGINAL_UTILISATION = 0.7  # up to here fine, to 1 marginal, beyond not: judgement
LARGEST_MAT_GAP_M = 0.3e-3  # a wider gap over the mat turns the pane into one carried by its rim: judgement
COVER_SPREAD_THICKNESSES = (
    2.0  # a contact grows by twice the thickness of grid or sheet (45 degrees), no more: judgement
)
ANNEALED_PARTIAL_FACTOR = 1.8  # EN 16612, published list of factors
FIFTY_YEARS_H = 50.0 * 365.25 * 24.0
PERMANENT_FACTOR = Value(0.29, 0.29, 0.294, "1", EN_16612 + ", 50 years, rounded down", COMPUTED)
# a stone's tip where it touches bare glass, to say what happens there: judgement
TIP_RADIUS_M, TIP_YOUNGS_PA, TIP_POISSON = 2.0e-3, 60e9, 0.25
# tried where a pane does not pass: common practice, no source
TRIED_SHEET_MM, TRIED_MAT, TRIED_MAT_MM = 5.0, "EPS22", 10.0
NOMINAL_MM = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 19.0, 25.0)  # of float glass, EN 572-2, from memory


def glass(name: str) -> Glass:
    """The glass of that name, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one.
    """
    return look_up("glass", name, GLASSES)


def duration_factor(hours: float) -> float:
    """Share of the short strength that annealed glass keeps under a load of that duration.

    k_mod = 0.663 t^(-1/16), never below its value for 50 years.

    Parameters
    ----------
    hours : float
        Duration of the load, above 0.

    References
    ----------
    EN 16612:2019, formula for k_mod, from memory.
    """
    if not hours > 0.0:
        raise MaterialError(f"load of {hours:g} hours: give a duration above 0.")
    return float(min(1.0, 0.663 * min(hours, FIFTY_YEARS_H) ** (-1.0 / 16.0)))


def design_strength_mpa(hours: float, surface_factor: float = 1.0, edge_factor: float = 1.0) -> float:
    """Design strength of annealed glass, MPa: k_e k_mod k_sp 45 / 1.8.

    Parameters
    ----------
    hours : float
        Duration of the load, above 0; use infinity for good: the factor is then 0.29.
    surface_factor : float
        1.0 for float, 0.6 for sandblasted.
    edge_factor : float
        1.0 away from stressed edges, 0.8 at as-cut or arrissed ones.

    References
    ----------
    EN 16612:2019, formula for annealed glass, from memory.
    """
    duration = PERMANENT_FACTOR.default if hours >= FIFTY_YEARS_H else duration_factor(hours)
    return edge_factor * duration * surface_factor * GLASSES["annealed"].f_gk_mpa.default / ANNEALED_PARTIAL_FACTOR
