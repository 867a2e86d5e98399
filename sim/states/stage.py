"""Everything that all states of one scene share: pieces in their places, contacts, joints, friction dry and wet."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import Assembly, Contacts, Poses, find_contacts, friction_between
from sim.contact.settling import stand_up
from sim.joints import Declared, declared_joints
from sim.pieces.friction import friction_matrix
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.states.water import Water
from sim.statics import Loads, highest_points, loads_at
from sim.units import MM_PER_M

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """A scene set up for its judges."""

    scene: Scene
    pieces: list[PlacedPiece]
    dry: Assembly
    wet: Assembly  # the same with the friction of wet faces
    poses: Poses
    contacts: Contacts  # dry-laid, with dry friction
    declared: Declared
    tops_m: Floats  # (n, 3) where each piece is pushed

    def assembly(self, water: Water) -> Assembly:
        """Shapes and masses with the friction of a water."""
        return self.wet if water.wet else self.dry

    def contacts_in(self, water: Water) -> Contacts:
        """The same contacts with the friction of a water."""
        return with_friction_of(self.contacts, self.assembly(water))

    def loads_in(self, water: Water, poses: Poses | None = None) -> Loads:
        """Weights and buoyancy in a water, where the pieces stand or at other poses."""
        bodies = [piece.body for piece in self.pieces]
        where = self.poses if poses is None else poses
        return loads_at(bodies, where, self.dry.mass_kg, water.level_m, water.density_kg_m3)


def set_stage(scene: Scene, pieces: list[PlacedPiece]) -> Stage:
    """Gather what the judges need of a scene whose pieces are placed."""
    dry, poses = stand_up(scene, pieces)
    contacts = find_contacts(dry, poses, scene.check.contact_mm / MM_PER_M)
    return stage_with(scene, pieces, dry, poses, contacts, declared_joints(scene, pieces, dry, poses))


def stage_with(
    scene: Scene, pieces: list[PlacedPiece], dry: Assembly, poses: Poses, contacts: Contacts, declared: Declared
) -> Stage:
    """The same where contacts, with dry friction, and joints are known."""
    wet = replace(dry, friction=np.ascontiguousarray(friction_matrix(scene, pieces, wet=True)))
    tops = highest_points(dry, poses) if pieces else np.zeros((0, 3))
    return Stage(scene, pieces, dry, wet, poses, contacts, declared, tops)


def with_friction_of(contacts: Contacts, assembly: Assembly) -> Contacts:
    """Contacts with the coefficients that an assembly has for their pairs."""
    return replace(contacts, mu=friction_between(assembly, contacts.a, contacts.b))
