"""From the pieces of a scene to a trial: convex parts, true weights, the tank, and what the water does.

The parts only collide. Mass, centre and inertia are those of the true body, which the parts miss by a
few per cent.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from sim.contact import Contacts
from sim.pieces.convex import ConvexParts, convex_parts_all
from sim.pieces.placing import PlacedPiece
from sim.scene import Scene
from sim.trial.engine import SETTLES_M, Floats, TrialBody, TrialBox, TrialSetup, tank_boxes
from sim.trial.pads import on_pads
from sim.trial.repeats import Spread, TrialRules
from sim.units import MM_PER_M


class Push(NamedTuple):
    """A force on a piece, constant in the tank, at a point that moves with the piece."""

    force_n: Floats  # (3,)
    at_m: Floats  # (3,) in the body's frame


@dataclass(frozen=True, slots=True, eq=False)
class Staged:
    """A scene ready for a trial, and how well the engines will see its pieces."""

    setup: TrialSetup
    worst_error_mm: float  # between a piece's surface and its convex parts', where 95 % of it is nearer; 0 without
    worst_piece: str | None
    parts: int  # convex ones in all, which the time of a run grows with


def stage(
    scene: Scene,
    pieces: Sequence[PlacedPiece],
    friction: Floats,
    glued: Sequence[tuple[int, int]] = (),
    forces: Sequence[Push | None] | None = None,
    progress: Callable[[int, int], None] | None = None,
    contacts: Contacts | None = None,
) -> Staged:
    """Stage one state of a scene.

    Parameters
    ----------
    scene : for the tank and what lies under the stones
    pieces : n of them, at rest or where they are to be tried
    friction : (n, n + 5) against pieces, then base, left, right, front and back pane, dry or wet as
        the state has it; from `sim.pieces.friction.friction_matrix`
    glued : pairs of indices that move as one; n and more: base or a pane, in the same order
    forces : one per piece, None for none: buoyancy, see `lifts`. Constant, which a piece that moves by
        no more than the drift limit does not notice
    progress : called with (bodies done, bodies in all) while convex parts are made, seconds each
    contacts : at these poses, from `sim.contact.find_contacts`: the pieces then bear on exact pads there
        (see `sim.trial.pads`) and count as fallen when they settle by more than the drift limit. Without,
        they bear on their convex parts, which bulge, and may settle by 10 mm

    Returns
    -------
    Staged
        Its setup carries a `trouble` where no run could say anything: a piece outside the tank.

    Raises
    ------
    ValueError
        When friction or forces do not fit the number of pieces, or a glued pair names none.
    """
    boxes = _boxes(scene)
    count = len(pieces)
    if np.shape(friction) != (count, count + len(boxes)):
        raise ValueError(f"friction of shape {np.shape(friction)}, wanted ({count}, {count + len(boxes)})")
    pushes = [None] * count if forces is None else list(forces)
    if len(pushes) != count:
        raise ValueError(f"{len(pushes)} forces for {count} pieces; give None for a piece without")
    for pair in glued:
        if min(pair) < 0 or min(pair) >= count or max(pair) >= count + len(boxes) or pair[0] == pair[1]:
            raise ValueError(f"glued pair {pair}: not two of {count} pieces and {len(boxes)} boxes")
    made = convex_parts_all((piece.body for piece in pieces), progress)
    bodies = tuple(_body(piece, parts, push) for piece, parts, push in zip(pieces, made, pushes, strict=True))
    if contacts is not None:
        bodies = on_pads(bodies, [piece.body for piece in pieces], contacts)
    errors_mm = [MM_PER_M * parts.surface_error_m.most_m for parts in made]
    worst = int(np.argmax(errors_mm)) if errors_mm else None
    return Staged(
        setup=TrialSetup(
            bodies,
            boxes,
            np.asarray(friction, dtype=np.float64),
            glued=tuple((int(a), int(b)) for a, b in glued),
            trouble=_outside(pieces, boxes),
            settles_m=SETTLES_M if contacts is None else rules_of(scene).drift_limit_m,
        ),
        worst_error_mm=0.0 if worst is None else errors_mm[worst],
        worst_piece=None if worst is None else pieces[worst].id,
        parts=sum(len(body.parts) for body in bodies),
    )


def lifts(pieces: Sequence[PlacedPiece], lift_n: Floats, arm_m: Floats) -> tuple[Push | None, ...]:
    """Buoyancy as forces for `stage`.

    Parameters
    ----------
    lift_n : (n,) upward
    arm_m : (n, 3) from each piece's centre to where its lift acts, along the tank's axes
    """
    return tuple(
        Push(np.array([0.0, 0.0, float(lift)]), np.asarray(arm @ piece.rotation)) if lift else None
        for piece, lift, arm in zip(pieces, lift_n, arm_m, strict=True)
    )


def rules_of(scene: Scene) -> TrialRules:
    """How strictly the scene wants a run to be watched."""
    return TrialRules(drift_limit_m=scene.check.drift_mm / MM_PER_M)


def spread_of(scene: Scene) -> Spread:
    """How far the scene wants repeats to differ."""
    check = scene.check
    return Spread(check.shift_mm / MM_PER_M, check.turn_deg, check.friction_spread, check.density_spread)


def _boxes(scene: Scene) -> tuple[TrialBox, ...]:
    """Base and panes; the base reaches up to the top of a grid or sheet."""
    base, *panes = tank_boxes([side_mm / MM_PER_M for side_mm in scene.tank.inner_mm])
    floor_m = (scene.tank.under_stones.thickness_mm or 0.0) / MM_PER_M
    return (replace(base, high_m=base.high_m + np.array([0.0, 0.0, floor_m])), *panes)


def _body(piece: PlacedPiece, made: ConvexParts, push: Push | None) -> TrialBody:
    forces = {} if push is None else {"forces_n": push.force_n[None, :], "forces_at_m": push.at_m[None, :]}
    return TrialBody(
        name=piece.id,
        parts=tuple((part.vertices_m, part.faces) for part in made.parts),
        mass_kg=piece.mass_kg,
        inertia_kg_m2=piece.mass_kg / piece.volume_m3 * piece.body.inertia_m5,
        rotation=piece.rotation,
        position_m=piece.position_m,
        fixed=piece.fixed,
        error_m=made.surface_error_m.max_m,
        **forces,
    )


def _outside(pieces: Sequence[PlacedPiece], boxes: tuple[TrialBox, ...]) -> str | None:
    """The first free piece whose centre lies beyond a pane or under the floor, in words."""
    base, left, right, front, back = boxes
    low = np.array([left.high_m[0], front.high_m[1], base.high_m[2]])
    high = np.array([right.low_m[0], back.low_m[1], np.inf])
    for piece in pieces:
        if not piece.fixed and bool(((piece.position_m < low) | (piece.position_m > high)).any()):
            return f"{piece.id} lies outside the tank"
    return None
