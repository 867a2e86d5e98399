"""A stack to be built: its units, what each needs first, and all that judging a part of it takes.

Plain arrays and numbers, so that it can be handed to other processes and machines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.contact import Contacts
from sim.joints import Joint
from sim.order.carrying import Carries, carried_by
from sim.order.propping import PROP_SIDES, beneath, underside_edges
from sim.order.reach import Shapes, Way, grips_of, ways_of
from sim.scene import Scene
from sim.states import Filling, Stage, Water
from sim.states.joint_reports import declared_amount
from sim.statics import Loads
from sim.units import MM_PER_M

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Unit:
    """What is set in one go: a piece, or a module glued outside the tank."""

    id: str
    pieces: tuple[int, ...]
    module: bool


@dataclass(frozen=True, slots=True)
class JointTime:
    """How long a joint needs."""

    glue: str | None  # None: a tie or screw, which holds at once
    fixture_min: float
    cure_h: float
    mass_g: float


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """A stack to be built in air. Sets of units, pieces and joints are bit masks."""

    names: tuple[str, ...]  # of pieces
    units: tuple[Unit, ...]  # those to be set; fixed pieces are there from the start
    centre_m: Floats  # (n, 3)
    contacts: Contacts
    fixed: NDArray[np.bool_]  # (n,)
    loads: Loads
    joints: tuple[Joint, ...]
    times: tuple[JointTime, ...]
    joint_units: tuple[int, ...]  # per joint the mask of units that it joins; one unit: made with its module
    joint_pieces: tuple[int, ...]  # per joint the mask of its free pieces
    pieces_of: tuple[int, ...]  # per unit the mask of its pieces
    needs: tuple[int, ...]  # per unit the mask of units that come first
    reasons: tuple[tuple[tuple[int, str], ...], ...]  # per unit: which one, and why
    edges_m: Floats  # (n, 8, 3) of each piece's underside the points farthest out: where a prop helps most
    beneath: tuple[tuple[int, ...], ...]  # of each of these points the mask of pieces under it
    ways: tuple[tuple[Way, ...], ...]  # per unit: ways in, each with the mask of units that would be in it
    grips: tuple[tuple[int, ...], ...]  # per unit: sides for a hand, each with the mask of units that take its room

    @property
    def everything(self) -> int:
        """Mask of all units."""
        return (1 << len(self.units)) - 1

    @property
    def made_outside(self) -> int:
        """Mask of joints inside modules: they are cured before the module is set."""
        return sum(1 << k for k, units in enumerate(self.joint_units) if units.bit_count() == 1 and units)

    def pieces_in(self, units: int) -> int:
        """Mask of the pieces of these units."""
        return sum(self.pieces_of[k] for k in bits(units))

    def joints_in(self, units: int) -> int:
        """Mask of joints all of whose units are set."""
        return sum(1 << k for k, both in enumerate(self.joint_units) if both & ~units == 0)

    def index(self, name: str) -> int:
        """Index of the unit of that id; KeyError when there is none."""
        for k, unit in enumerate(self.units):
            if unit.id == name:
                return k
        raise KeyError(name)


def bits(mask: int) -> list[int]:
    """Positions of the bits that are set, lowest first."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def problem_of(stage: Stage, modules: Sequence[Unit] | None = None) -> Problem:
    """What has to be built, from a scene set up for its judges.

    Parameters
    ----------
    modules : units glued outside; default the scene's own
    """
    scene = stage.scene
    names = tuple(piece.id for piece in stage.pieces)
    units = _units(scene, names, stage.dry.fixed, modules)
    unit_of = {piece: k for k, unit in enumerate(units) for piece in unit.pieces}
    joints = stage.declared.joints
    sides = [[unit_of[side] for side in (joint.a, joint.b) if side in unit_of] for joint in joints]
    bearing = carried_by(stage.contacts)
    needs, reasons = _needs(scene, units, unit_of, bearing)
    edges_m = np.array([underside_edges(piece) for piece in stage.pieces]).reshape(-1, PROP_SIDES, 3)
    after = [sum(1 << k for k, need in enumerate(needs) if need >> u & 1) for u in range(len(units))]
    shapes, hand_m = Shapes(stage, [unit.pieces for unit in units]), scene.check.hand_mm / MM_PER_M
    return Problem(
        names=names,
        units=units,
        centre_m=stage.poses.position_m,
        contacts=stage.contacts,
        fixed=stage.dry.fixed,
        loads=stage.loads_in(Water(Filling.AIR, None, 0.0)),
        joints=joints,
        times=tuple(_time(stage, k) for k in range(len(joints))),
        joint_units=tuple(sum({1 << side for side in pair}) for pair in sides),
        joint_pieces=tuple(sum({1 << p for p in (j.a, j.b) if p in unit_of}) for j in joints),
        pieces_of=tuple(sum(1 << piece for piece in unit.pieces) for unit in units),
        needs=needs,
        reasons=reasons,
        edges_m=edges_m,
        beneath=beneath(stage.pieces, edges_m),
        ways=tuple(ways_of(stage, shapes, unit, after[unit]) for unit in range(len(units))),
        grips=tuple(grips_of(stage, shapes, unit, hand_m) for unit in range(len(units))),
    )


def _units(
    scene: Scene, names: tuple[str, ...], fixed: NDArray[np.bool_], modules: Sequence[Unit] | None
) -> tuple[Unit, ...]:
    """Modules and single pieces in the order of the file."""
    if modules is None:
        index = {name: k for k, name in enumerate(names)}
        modules = [Unit(entry.id, tuple(index[name] for name in entry.pieces), True) for entry in scene.module]
    taken = {piece for module in modules for piece in module.pieces}
    singles = [Unit(name, (k,), False) for k, name in enumerate(names) if k not in taken and not fixed[k]]
    return tuple(sorted([*modules, *singles], key=lambda unit: min(unit.pieces)))


def _needs(
    scene: Scene, units: tuple[Unit, ...], unit_of: dict[int, int], bearing: Carries
) -> tuple[tuple[int, ...], tuple[tuple[tuple[int, str], ...], ...]]:
    """What comes first, by what carries what and by the builder's own rules."""
    reasons: list[dict[int, str]] = [{} for _ in units]
    for lower, upper in sorted(bearing):
        if lower in unit_of and upper in unit_of and unit_of[lower] != unit_of[upper]:
            reasons[unit_of[upper]].setdefault(unit_of[lower], "carries it")
    named = {unit.id: k for k, unit in enumerate(units)}
    for k, unit in enumerate(units):
        named |= {scene.piece[piece].id: k for piece in unit.pieces}
    for rule in scene.rule:
        first, then = (named.get(name) for name in rule.first_then)
        if first is not None and then is not None and first != then:
            reasons[then].setdefault(first, "comes first by your rule")
    masks = tuple(sum(1 << k for k in of) for of in reasons)
    return masks, tuple(tuple(sorted(of.items())) for of in reasons)


def _time(stage: Stage, k: int) -> JointTime:
    amount = declared_amount(stage, k)
    if amount is None:
        return JointTime(None, 0.0, 0.0, 0.0)
    glue = stage.scene.joint[stage.declared.entries[k]].glue
    return JointTime(glue, amount.fixture_min, amount.cure_h, amount.mass_kg * 1000.0)
