"""Two versions of a scene beside each other: what moved, how verdicts and costs changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial.transform import Rotation

from sim.scene import Scene, parse_scene
from sim.units import MM_PER_M
from sim.yard.bench import Laid
from sim.yard.faults import Faults
from sim.yard.protocol import Compared, MovedPiece, VerdictTold
from sim.yard.quick import QuickVerdict
from sim.yard.touching import Touching

if TYPE_CHECKING:
    from sim.yard.session import Session

STILL_MM, STILL_DEG = 1.0e-3, 1.0e-3  # less counts as not moved


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """One of the two versions."""

    laid: Laid
    verdict: VerdictTold

    @property
    def tilt_deg(self) -> float | None:
        """Least tilt in the state that governs."""
        governing = self.verdict.governing
        return None if governing is None else self.verdict.states[governing].tilt_deg

    @property
    def glue_g(self) -> float:
        """Glue to buy, all chemistries together."""
        return sum((grams for _, grams in self.verdict.totals.glue_g), 0.0)


def compared(session: Session, then: str) -> Compared:
    """The present version beside another one; both are judged quickly.

    Raises
    ------
    BedjointError
        When no version has this name, or it can no longer be made.
    """
    with session.lock:
        now = session.laid
        before = session.bench.lay(parse_scene(session.keeping.version_named(then), session.keeping.file))
        sides = [_Side(laid, _judged(laid)) for laid in (before, now)]
    old, new = sides
    joints = [_joints(side.laid.scene) for side in sides]
    return Compared(
        version=session.version,
        then=then,
        pieces=_moved(before, now),
        joints_added=tuple(sorted(joints[1] - joints[0])),
        joints_removed=tuple(sorted(joints[0] - joints[1])),
        verdict=(old.verdict.verdict, new.verdict.verdict),
        reason=(old.verdict.reason, new.verdict.reason),
        tilt_deg=(old.tilt_deg, new.tilt_deg),
        mass_kg=(old.verdict.totals.mass_kg, new.verdict.totals.mass_kg),
        glue_g=(old.glue_g, new.glue_g),
        cost=(old.verdict.totals.cost, new.verdict.totals.cost),
    )


def _judged(laid: Laid) -> VerdictTold:
    """States only: loads and margins do not enter the comparison."""
    return QuickVerdict(0, laid, Faults().of(laid), Touching(), lambda: False).verdict()


def _joints(scene: Scene) -> set[tuple[str, str]]:
    return {(min(joint.between), max(joint.between)) for joint in scene.joint}


def _moved(before: Laid, now: Laid) -> tuple[MovedPiece, ...]:
    old, new = ({piece.id: k for k, piece in enumerate(laid.pieces)} for laid in (before, now))
    found = [MovedPiece(name, "removed", 0.0, 0.0) for name in old if name not in new]
    found += [MovedPiece(name, "added", 0.0, 0.0) for name in new if name not in old]
    for name in (name for name in new if name in old):
        one, other = before.pieces[old[name]], now.pieces[new[name]]
        by_mm = float(np.linalg.norm(other.position_m - one.position_m)) * MM_PER_M
        by_deg = float(np.degrees(Rotation.from_matrix(other.rotation @ one.rotation.T).magnitude()))
        if one.body is not other.body or one.mass_kg != other.mass_kg or one.fixed != other.fixed:
            found.append(MovedPiece(name, "changed", by_mm, by_deg))
        elif by_mm > STILL_MM or by_deg > STILL_DEG:
            found.append(MovedPiece(name, "moved", by_mm, by_deg))
    return tuple(found)
