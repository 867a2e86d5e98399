"""Mats under the tank: how stiff they are and what they carry for good."""

from __future__ import annotations

from dataclasses import dataclass

from sim.errors import MaterialError
from sim.materials.values import COMPUTED, JUDGEMENT, PUBLISHED, Value, exactly, look_up
from sim.units import PA_PER_MPA

D6817 = "ASTM D6817, Standard Specification for Rigid Cellular Polystyrene Geofoam, table 1 (minima)"
GEOFOAM = "geofoam guidance: permanent stress at most the resistance at 1 % strain; values of ASTM D6817"
OURS = "our estimate; no data found"


@dataclass(frozen=True, slots=True)
class Mat:
    """One kind of mat.

    Attributes
    ----------
    density_kg_m3 : Value
    youngs_mpa : Value
        Modulus in compression; for EPS the resistance at 1 % strain over 0.01.
    permanent_kpa : Value or None
        Pressure that it carries for good; None where nobody says.
    at_5_percent_kpa, at_10_percent_kpa : Value or None
        Compressive resistance at 5 and 10 % strain.
    note : str
    """

    name: str
    density_kg_m3: Value
    youngs_mpa: Value
    permanent_kpa: Value | None
    at_5_percent_kpa: Value | None
    at_10_percent_kpa: Value | None
    note: str = ""

    def bedding_n_m3(self, thickness_m: float) -> float:
        """Pressure per depth of compression (Winkler modulus) of a mat of that thickness, N/m3: E / h.

        Raises
        ------
        MaterialError
            For a thickness that is not above 0.
        """
        if not thickness_m > 0.0:
            raise MaterialError(f"{self.name} mat {thickness_m * 1000:g} mm thick: give a thickness above 0.")
        return self.youngs_mpa.default * PA_PER_MPA / thickness_m


def _eps(name: str, density: float, at_1: float, at_5: float, at_10: float) -> Mat:
    modulus = "resistance at 1 % strain over 0.01, from " + D6817
    return Mat(
        name,
        exactly(density, "kg/m3", D6817, PUBLISHED),
        exactly(at_1 / 10.0, "MPa", modulus, COMPUTED),
        exactly(at_1, "kPa", GEOFOAM, PUBLISHED),
        exactly(at_5, "kPa", D6817, PUBLISHED),
        exactly(at_10, "kPa", D6817, PUBLISHED),
        "cushions grit and unevenness under 0.1 mm; does not level a warped top",
    )


_ROWS = (
    _eps("EPS12", 11.2, 15, 35, 40),
    _eps("EPS15", 14.4, 25, 55, 70),
    _eps("EPS19", 18.4, 40, 90, 110),
    _eps("EPS22", 21.6, 50, 115, 135),
    _eps("EPS29", 28.8, 75, 170, 200),
    _eps("EPS39", 38.4, 103, 241, 276),
    Mat(
        "soft PE foam",
        Value(30, 20, 40, "kg/m3", OURS, JUDGEMENT),
        Value(0.3, 0.2, 0.5, "MPa", OURS, JUDGEMENT),
        None,
        None,
        None,
        "creeps; what it carries for good is not known",
    ),
)

MATS: dict[str, Mat] = {row.name: row for row in _ROWS}


def mat(name: str) -> Mat:
    """The mat of that name, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one.
    """
    return look_up("mat", name, MATS)
