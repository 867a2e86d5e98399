"""Glue: what a joint carries and takes."""

from __future__ import annotations

import functools
from functools import partial

import numpy as np

from sim.joints import design_strength_pa, glue_amount, joint_patch, utilisation
from sim.materials import STONE_DIVISOR, adhesive
from sim.materials.values import COMPUTED, MEMORY, PUBLISHED
from sim.published.laying import Laying, box
from sim.published.row import BY_HAND, FUNCTION, SCENE, Row, Subject, amount, share
from sim.states import Filling
from sim.states.report import JointReport

TOOLKIT = "Adhesive Design Toolkit, Durability design and testing, safety"
EN_12004 = "EN 12004, Adhesives for ceramic tiles, producer's leaflet"
DIN_32622 = "DIN 32622:2006, Aquarien aus Glas, trade press"
ETAG_002 = "ETAG 002-1, Structural sealant glazing"
BERNOULLI = f"{BY_HAND}stress N/A + M/W of a beam"
BEAD = f"{BY_HAND}volume of a bed with a 45-degree bead"

ROUNDED = share(0.02, "the design table rounds to two digits")
OWN = amount(0.0, "a number of our table")
CONTACTS = share(5e-3, "patches are found between meshes to 0.02 mm")
MPA = 1e6
NONE = float("nan")


def design_mpa(glue: str) -> float:
    """Design strength for good of a joint between glass faces, MPa."""
    return design_strength_pa(adhesive(glue)) / MPA


def first_crack() -> float:
    """Moment at which a rectangle of 30 x 20 mm cracks, bent about its short side, over f A c."""
    corners = np.array([[x, y, 0.0] for x in (0.0, 0.03) for y in (0.0, 0.02)])
    patch = joint_patch(corners, np.array([0.0, 0.0, 1.0]))
    wrench = np.zeros(6)
    about_long = abs(patch.axes[0, 0]) > 0.5
    wrench[4 if about_long else 3] = 1.0
    return 1.0 / utilisation(wrench, patch, 1.0) / (patch.area_m2 * 0.03)


@functools.cache
def _arm() -> JointReport:
    """0.2 kg in a bar of 200 mm that sticks out from a fixed post, glued over 20 x 20 mm of sawn faces."""
    laying = Laying()
    laying.put("post", box((300, 150, 0), (100, 100, 200)), "density_kg_m3 = 2700\nfixed = true")
    laying.put("arm", box((400, 190, 100), (200, 20, 20)), "mass_kg = 0.2")
    laying.sections.append("[[joint]]\nbetween = ['post', 'arm']\nglue = 'epoxy putty'\nfit = 'sawn'\n")
    return laying.report((Filling.AIR,)).joints[0]


def arm_used() -> float:
    """Share of the arm's joint that is used."""
    return NONE if (used := _arm().utilisation) is None else used


@functools.cache
def _bed() -> JointReport:
    """Two blocks on each other, joined over 40 x 25 mm: 10 cm2, perimeter 130 mm, gap 0.4 mm, bead 2 mm."""
    laying = Laying()
    laying.put("low", box((300, 150, 0), (100, 100, 50)), rock="rock = 'marble'")
    laying.put("high", box((330, 170, 50), (40, 25, 30)), rock="rock = 'marble'")
    joint = "[[joint]]\nbetween = ['high', 'low']\nglue = 'epoxy putty'\nfit = 'sawn'\ngap_mm = 2.5\nfillet_mm = 4\n"
    laying.sections.append(joint)
    return laying.report((Filling.AIR,)).joints[0]


def bed(which: str) -> float:
    """Glued area, mm2, volume, ml, or mass to buy, g, of the joint between two blocks."""
    joint = _bed()
    value = {"area": joint.area_mm2, "volume": joint.volume_ml, "mass": joint.mass_g}[which]
    return NONE if value is None else value


def _strength(name: str, mpa: str) -> Row:
    return Row(TOOLKIT, "strength over 1.5 x 1.5 x 1.5 x environment", f"design strength for good, {name}", "MPa", mpa,
               ROUNDED, COMPUTED, FUNCTION, partial(design_mpa, name))  # fmt: skip


def _quotient(name: str, environment: float) -> Row:
    divisor = f"{1.5**3 * environment:g}"
    return Row(TOOLKIT, f"1.5 adhesive, 1.5 thickness, 1.5 long term, {environment:g} environment",
               f"strength over permanent strength, {name}", "1", divisor, ROUNDED, PUBLISHED, FUNCTION,
               lambda: adhesive(name).strength_mpa.default / adhesive(name).permanent_mpa.default, 2)  # fmt: skip


def _listed(source: str, place: str, name: str, mpa: str) -> Row:
    return Row(source, place, f"least tensile strength, {name}", "MPa", mpa, OWN, PUBLISHED, FUNCTION,
               lambda: adhesive(name).strength_mpa.default)  # fmt: skip


GLUING = Subject(
    "Glue",
    (
        _quotient("epoxy putty", 2.0),
        _quotient("cement C2", 2.0),
        Row(TOOLKIT, "1.5 x 1.5 x 1.5 x 2", "factor on the stone beside a joint", "1", "6.75", OWN, PUBLISHED,
            FUNCTION, lambda: STONE_DIVISOR),
        _strength("epoxy putty", "0.444"),
        _strength("cyanoacrylate gel", "0.148"),
        _listed(EN_12004, "class C1", "cement C1", "0.5"),
        _listed(EN_12004, "class C2", "cement C2", "1.0"),
        _listed(DIN_32622, "sealant", "neutral silicone", "0.6"),
        Row(ETAG_002, "permanent shear 0.007 to 0.011 MPa", "design strength for good, neutral silicone", "MPa",
            "0.009", amount(0.002, "the range that the source gives"), MEMORY, FUNCTION,
            partial(design_mpa, "neutral silicone")),
        Row(BERNOULLI, "M = f A c / 6", "moment at the first crack of a rectangle over f A c", "1", "0.16667",
            share(1e-4, "rounding of the printed number"), COMPUTED, FUNCTION, first_crack),
        Row(BERNOULLI, "0.2 kg at 100 mm on 20 x 20 mm, 80 % glued, 0.44 MPa",
            "share used of the joint of a bar that sticks out", "1", "0.4318", CONTACTS, COMPUTED, SCENE, arm_used),
        Row(BEAD, "A g + p f2 / 2; 10 cm2, 0.4 mm, 120 mm, 2 mm", "cyanoacrylate gel in a joint", "ml", "0.64",
            share(1e-3, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: glue_amount(adhesive("cyanoacrylate gel"), 10e-4, 0.120, 0.4e-3, 2e-3).volume_m3 * 1e6),
        Row(BEAD, "the same, 1.07 g/ml, 1.2 for waste", "cyanoacrylate gel to buy for it", "g", "0.82",
            share(5e-3, "rounding of the printed number"), COMPUTED, FUNCTION,
            lambda: glue_amount(adhesive("cyanoacrylate gel"), 10e-4, 0.120, 0.4e-3, 2e-3).mass_kg * 1e3),
        Row(BEAD, "0.8 of 40 x 25 mm, sawn faces", "area that glue holds between two blocks", "mm2", "800", CONTACTS,
            COMPUTED, SCENE, partial(bed, "area")),
        Row(BEAD, "A g + p f2 / 2; 10 cm2, 2.5 mm, 130 mm, 4 mm", "epoxy putty in that joint", "ml", "3.54",
            CONTACTS, COMPUTED, SCENE, partial(bed, "volume")),
        Row(BEAD, "the same, 1.7 g/ml, 1.2 for waste", "epoxy putty to buy for it", "g", "7.22", CONTACTS, COMPUTED,
            SCENE, partial(bed, "mass")),
    ),
)  # fmt: skip
