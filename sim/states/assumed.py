"""What a verdict rests on that nobody stated, and the cautions that apply, each with the number behind it."""

from __future__ import annotations

from collections.abc import Sequence

from sim.materials import LARGEST_MAT_GAP_M, MARGINAL_UTILISATION, water_density_kg_m3
from sim.states.answer import StateAnswer
from sim.states.stage import Stage
from sim.units import significant

ESTIMATE = (
    "This is an estimate and no certification: sizes, densities, friction and glass are yours, and a wrong one makes "
    "the result worthless. Local codes and licensed practice come first."
)
LEAST_THRUST_N = 1.0e-3  # less is the noise of the solver
WITHOUT_GLUE = "A structure should stand without glue at 10 to 15 degrees of tilt, wet; glue is the second line"


def cautions_of(stage: Stage, answers: Sequence[StateAnswer]) -> tuple[str, ...]:
    """Cautions about standing and falling that apply to the states as built."""
    found = [ESTIMATE]
    wanted = stage.scene.check.tilt_wanted_deg
    margins = [answer.equilibrium for answer in answers]
    both = [one.critical_tilt_deg if one.stack_tilt_deg is None else one.stack_tilt_deg for one in margins]
    tilts = [tilt for tilt in both if tilt is not None]
    if tilts and min(tilts) < wanted:
        found.append(
            f"It comes down at a tilt of {significant(min(tilts), 2)} degrees; wanted are {wanted:g}. {WITHOUT_GLUE}."
        )
    elif stage.declared.joints:
        found.append(f"{len(stage.declared.joints)} joints are declared. {WITHOUT_GLUE}.")
    used = [use.utilisation for a in answers for use in a.joints if use.utilisation is not None]
    if used:
        found.append(
            f"The most used joint takes {significant(100 * max(used), 2)} % of its design strength. Proof-load each "
            "critical joint to twice its load before it goes over glass."
        )
    thrust = max((a.pane_thrust_n or 0.0 for a in answers), default=0.0)
    if thrust > LEAST_THRUST_N:
        found.append(
            f"Pieces lean on the side panes with {significant(thrust, 2)} N: keep a finger's width of "
            "water between stones and panes."
        )
    found += _about_the_pane(stage, answers)
    kind = stage.scene.tank.under_stones.kind
    on_base = {footprint.piece for a in answers for footprint in a.footprints}
    if kind == "none" and on_base:
        found.append(
            f"Standing on bare glass: {len(on_base)} of the pieces. No stone, grit or cement may touch it: "
            "lay a grid, sheet or mat first, stones before loose substrate."
        )
    water = water_density_kg_m3(stage.scene.water.temperature_c, stage.scene.water.salinity_ppt)
    rigid = _held_by_rigid_glue_alone(stage)
    if rigid:
        found.append(
            f"Rigid glue is the only hold of {len(rigid)} wooden piece{'s' if len(rigid) > 1 else ''} "
            f"({', '.join(rigid)}): wood swells by 5 to 10 % across the grain and breaks it. Tie or screw it as well."
        )
    floating = [p.id for p in stage.pieces if p.is_wood and p.density_kg_m3 < water]
    if floating and len(answers) > 1:
        found.append(
            f"Dry wood floats ({', '.join(floating)}): hold it down by weight, and look again after months, after "
            "moving and after draining."
        )
    return tuple(found)


def _held_by_rigid_glue_alone(stage: Stage) -> list[str]:
    """Wooden pieces with glued joints and neither tie nor screw."""
    found = []
    for piece in stage.pieces:
        kinds = {joint.kind for joint in stage.scene.joint if piece.id in joint.between}
        if piece.is_wood and kinds == {"glue"}:
            found.append(piece.id)
    return found


def _about_the_pane(stage: Stage, answers: Sequence[StateAnswer]) -> list[str]:
    """Cautions about the base pane: its use, its glass, what carries it."""
    tank, found = stage.scene.tank, []
    known = [(a.base.utilisation, a.base) for a in answers if a.base is not None and a.base.utilisation is not None]
    used, base = max(known, key=lambda pair: pair[0], default=(0.0, None))
    if base is not None and used > 1.0:
        tension = significant(base.max_tension_mpa or 0.0, 2)
        found.append(
            f"Do not fill: the base pane would bear {tension} MPa, {100 * used:.0f} % "
            "of its limit. Glass strength scatters by a factor of two and more, and glass fails without warning."
        )
    elif base is not None and used > MARGINAL_UTILISATION:
        found.append(
            f"The base pane uses {100 * used:.0f} % of its limit: fill in quarters, a day between, and watch it sag."
        )
    if tank.glass in ("unknown", "toughened"):
        found.append(
            f"Glass of the base: {tank.glass}. Toughened glass is never drilled, chipped or loaded at a point."
        )
    if tank.support == "mat":
        gap_mm = LARGEST_MAT_GAP_M * 1000.0
        found.append(
            f"On a mat: the board under it must be full, flat and rigid; a gap over {gap_mm:g} mm turns the base into "
            "one carried by its rim. Framed tanks stand on their rim only."
        )
    elif tank.support == "unknown":
        found.append("Support unknown, judged as rim only: find out what carries the base before you fill.")
    return found


def inputs_assumed(stage: Stage) -> tuple[str, ...]:
    """Inputs that the scene leaves open, with the value taken."""
    scene, found = stage.scene, []
    plain = [piece.id for piece in stage.pieces if piece.friction is None]
    if plain and not scene.friction:
        found.append(f"friction of {len(plain)} pieces from the table by rock and wood, dry and wet")
    by_table = [
        entry.id
        for entry in scene.piece
        if entry.mass_kg is None and entry.density_kg_m3 is None and entry.stand_in is None
    ]
    if by_table:
        found.append(f"weights of {len(by_table)} pieces from their volume and the table's density: weigh them")
    if scene.water.level_mm is None:
        found.append(f"water level {scene.water_level_mm:g} mm: 95 % of the tank's height")
    if scene.tank.glass == "unknown":
        found.append("glass unknown: taken as annealed")
    found.append("glass of the side panes: taken as annealed, held at the base and at both uprights")
    if scene.tank.support == "unknown":
        found.append("support unknown: taken as rim only")
    rough = [joint for joint in scene.joint if joint.kind == "glue" and joint.area_mm2 is None]
    if rough:
        found.append(f"areas of {len(rough)} glued joints from the gap between the meshes and the fit of their faces")
    return tuple(found)
