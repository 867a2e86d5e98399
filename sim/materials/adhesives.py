"""Glue: what holds for good on rough stone, which gap it fills, how long it takes and what it does to you."""

from __future__ import annotations

from dataclasses import dataclass

from sim.materials.values import COMPUTED, JUDGEMENT, MEMORY, PUBLISHED, Status, Value, exactly, look_up

ROUGH = "practical strength on rough dry stone, tension as shear: our estimate below the laboratory's"
TOOLKIT = "Adhesive Design Toolkit, Durability design and testing: factors 1.5 x 1.5 x 1.5 x environment"
HANDBOOK = "Pizzi & Mittal (eds), Handbook of Adhesive Technology, cyanoacrylate chapter, web copy"
EN_12004 = "EN 12004 classes, producer's leaflet (tensile adhesion, also after water, heat and frost)"
DIN_32622 = "DIN 32622:2006 requirement on tank sealants, read in part only"
ETAG_002 = "ETAG 002-1, permanent shear a tenth of the dynamic design value"
USUAL = "product data as remembered; read yours"

STONE_DIVISOR = 6.75  # a joint's design strength is at most the stone's tensile strength over this
HANDLING_FACTOR = 1.5  # a joint also survives handling at this many times its own load: judgement
WASTE_FACTOR = Value(1.2, 1.1, 1.3, "1", "allowance for spills and squeeze-out", JUDGEMENT)

_CONTACT = "share of a patch that the glue really holds: our estimate"
CONTACT_FRACTIONS: dict[str, Value] = {
    "rough": exactly(0.3, "1", _CONTACT, JUDGEMENT),
    "fitted": exactly(0.5, "1", _CONTACT, JUDGEMENT),
    "sawn": exactly(0.8, "1", _CONTACT, JUDGEMENT),
}
_GAP = "mean gap where none is measured: our estimate"
MEAN_GAPS_MM: dict[str, Value] = {
    "sawn": exactly(0.3, "mm", _GAP, JUDGEMENT),
    "natural": Value(1.5, 1.0, 2.0, "mm", _GAP, JUDGEMENT),
    "stacked rubble": Value(4.5, 3.0, 6.0, "mm", _GAP, JUDGEMENT),
}

_FASTENED = "a tie or screw as a patch too small to carry a moment, so that it only pulls: our estimate"
TIE_WIDTH_M = exactly(0.0005, "m", _FASTENED, JUDGEMENT)
TIE_SLIP_M = exactly(0.001, "m", "slip of a tie or screw at its capacity: our estimate", JUDGEMENT)


@dataclass(frozen=True, slots=True)
class Adhesive:
    """One chemistry of glue.

    Attributes
    ----------
    strength_mpa : Value
        f_k: characteristic strength on rough dry stone, tension and shear alike.
    divisor : Value
        From `strength_mpa` to `permanent_mpa`.
    permanent_mpa : Value
        f_d: design strength under load for good, in water.
    youngs_pa : Value
        Stiffness of the cured bond line, for sharing load between joints.
    gap_mm : Value
        Thinnest and thickest bond line that it fills; default the usual one.
    fixture_min : Value
        Until it holds the piece by itself; the default is for the usual gap.
    cure_h : Value
        Until full strength.
    density_kg_m3 : Value
    waste : Value
        Mass bought over mass computed.
    pore_depth_mm : Value
        How deep it sinks into porous stone.
    structural : bool
        May carry load for good; otherwise a seal or cushion.
    on_wet_rock : bool
        May be set on wet stone.
    on_carbonate : bool
        Does no harm to limestone and marble.
    rock_note, wood_note : str
    hazards : tuple of str
    """

    name: str
    strength_mpa: Value
    divisor: Value
    permanent_mpa: Value
    youngs_pa: Value
    gap_mm: Value
    fixture_min: Value
    cure_h: Value
    density_kg_m3: Value
    pore_depth_mm: Value
    structural: bool
    on_wet_rock: bool
    on_carbonate: bool
    rock_note: str
    wood_note: str
    hazards: tuple[str, ...]
    waste: Value = WASTE_FACTOR


def _strength(default: float, low: float, high: float, source: str = ROUGH, status: Status = JUDGEMENT) -> Value:
    return Value(default, low, high, "MPa", source, status)


def _divisor(number: float) -> Value:
    return exactly(number, "1", TOOLKIT, COMPUTED)


def _permanent(number: float) -> Value:
    """f_k over the divisor, as rounded in the design table."""
    return exactly(number, "MPa", "f_k over the divisor; no test in permanent immersion was found", COMPUTED)


_NO_PORES = exactly(0.0, "mm", "too stiff to sink in", JUDGEMENT)
_SWELLS = "swelling (5-10 %) breaks rigid glue: never the only hold of wood, tie or screw it to a stone"
_CYANOACRYLATE_HAZARDS = (
    "heats up on cotton, tissue and paper (91 C, Jacques et al. 2020, J. Burn Care Res.): small doses, no flame",
    "vapour irritates nose and eyes: ventilate",
    "bonds skin: eye protection, nitrile gloves, no cotton",
)
_EPOXY_HAZARDS = (
    "sensitises the skin: gloves",
    "unmixed hardener kills: mix the exact ratio, cure at least 7 days at 20 C, soak and discard that water",
)
_CEMENT_HAZARDS = ("caustic: gloves and eye protection", "raises pH: soak and change water until pH is stable")


def _cyanoacrylate(name: str, strength: Value, permanent: float, gap: Value, note: str) -> Adhesive:
    return Adhesive(
        name,
        strength_mpa=strength,
        divisor=_divisor(13.5),
        permanent_mpa=_permanent(permanent),
        youngs_pa=Value(1.5e9, 0.5e9, 3e9, "Pa", USUAL, MEMORY),
        gap_mm=gap,
        fixture_min=Value(
            10, 0.17, 60, "min", HANDBOOK + ": 10 s at 25 um, 10 min at 0.13 mm, 1 h at 0.38 mm", PUBLISHED
        ),
        cure_h=Value(24, 24, 48, "h", HANDBOOK, PUBLISHED),
        density_kg_m3=Value(1070, 1050, 1100, "kg/m3", HANDBOOK + " (1050); " + USUAL, MEMORY),
        pore_depth_mm=Value(0.75, 0.5, 1.0, "mm", "our estimate, on porous stone", JUDGEMENT),
        structural=True,
        on_wet_rock=False,
        on_carbonate=True,
        rock_note=note,
        wood_note=_SWELLS,
        hazards=_CYANOACRYLATE_HAZARDS,
    )


def _cement(name: str, strength: float, permanent: float) -> Adhesive:
    return Adhesive(
        name,
        strength_mpa=exactly(strength, "MPa", EN_12004, PUBLISHED),
        divisor=_divisor(6.75),
        permanent_mpa=_permanent(permanent),
        youngs_pa=Value(10e9, 5e9, 20e9, "Pa", USUAL, MEMORY),
        gap_mm=Value(10, 5, 50, "mm", USUAL, MEMORY),
        fixture_min=Value(1440, 5, 1440, "min", "5-60 min fast, 24 h normal; " + USUAL, MEMORY),
        cure_h=Value(168, 168, 672, "h", USUAL, MEMORY),
        density_kg_m3=Value(2000, 1800, 2200, "kg/m3", USUAL, MEMORY),
        pore_depth_mm=_NO_PORES,
        structural=True,
        on_wet_rock=True,
        on_carbonate=True,
        rock_note="wet the stone first and keep it wet while it cures",
        wood_note=_SWELLS,
        hazards=_CEMENT_HAZARDS,
    )


_ROWS = (
    _cyanoacrylate(
        "cyanoacrylate gel",
        _strength(2.0, 1.0, 4.0),
        0.15,
        Value(0.2, 0.0, 0.4, "mm", HANDBOOK + ": 0.38-0.5 mm for high viscosity, weak above 0.25 mm", PUBLISHED),
        "dry, dust-free, close-fitting faces; loses strength in water between rigid parts",
    ),
    _cyanoacrylate(
        "cyanoacrylate gel with fibre",
        _strength(1.5, 0.5, 3.0, "our estimate for fibre or tissue with stone dust: no data found"),
        0.11,
        Value(1.0, 0.0, 3.0, "mm", "our estimate: no data found", JUDGEMENT),
        "fibre or stone dust fills the gap; dry faces; no test of it was found",
    ),
    Adhesive(
        "epoxy putty",
        strength_mpa=_strength(3.0, 2.0, 6.0),
        divisor=_divisor(6.75),
        permanent_mpa=_permanent(0.44),
        youngs_pa=Value(3e9, 1e9, 6e9, "Pa", USUAL, MEMORY),
        gap_mm=Value(5, 2, 25, "mm", USUAL, MEMORY),
        fixture_min=Value(60, 20, 60, "min", "sticks; " + USUAL, MEMORY),
        cure_h=Value(168, 24, 168, "h", "works after 24 h on one data sheet, full after 7 d; " + USUAL, MEMORY),
        density_kg_m3=Value(1700, 1400, 2000, "kg/m3", "1400 on one data sheet; " + USUAL, MEMORY),
        pore_depth_mm=_NO_PORES,
        structural=True,
        on_wet_rock=True,
        on_carbonate=True,
        rock_note="brush and rinse the faces; loses about 30 % after a month in water (Frigione et al. 2006)",
        wood_note=_SWELLS,
        hazards=_EPOXY_HAZARDS,
    ),
    Adhesive(
        "neutral silicone",
        strength_mpa=_strength(0.6, 0.3, 0.6, DIN_32622, PUBLISHED),
        divisor=exactly(60, "1", ETAG_002, MEMORY),
        permanent_mpa=Value(0.010, 0.007, 0.011, "MPa", ETAG_002 + "; short-term 0.10 MPa", MEMORY),
        youngs_pa=Value(1e6, 0.5e6, 2.5e6, "Pa", USUAL, MEMORY),
        gap_mm=Value(4, 2, 12, "mm", USUAL, MEMORY),
        fixture_min=Value(1440, 1440, 2880, "min", "skin in 10-30 min, then 2-3 mm a day; " + USUAL, MEMORY),
        cure_h=Value(336, 168, 504, "h", "thick beads; " + USUAL, MEMORY),
        density_kg_m3=Value(1250, 1000, 1500, "kg/m3", USUAL, MEMORY),
        pore_depth_mm=_NO_PORES,
        structural=False,
        on_wet_rock=False,
        on_carbonate=True,
        rock_note="a seal or cushion, no structure; holds poorly on wet or dusty stone",
        wood_note="gives with the swelling of wood, but carries next to nothing for good",
        hazards=(
            "by-products while curing: ventilate",
            "no grades with mould inhibitor; no acetic silicone on limestone, marble or cement",
        ),
    ),
    _cement("cement C1", 0.5, 0.074),
    _cement("cement C2", 1.0, 0.148),
)

ADHESIVES: dict[str, Adhesive] = {row.name: row for row in _ROWS}


def adhesive(name: str) -> Adhesive:
    """The glue of that name, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one.
    """
    return look_up("glue", name, ADHESIVES)
