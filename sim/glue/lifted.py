"""Does a module, glued outside the tank, bear being lifted in and being turned on the bench?

It hangs at 1.5 times its weight from its lifting points: from one or two of them it swings until its weight is
below them. Turned, its heaviest piece is held, and the weight acts along each axis, to and fro.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from sim.base import lift_over_rim
from sim.contact import chosen_contacts
from sim.materials import HANDLING_FACTOR
from sim.scene import ModuleEntry
from sim.states import Handling, ModuleAnswer, Stage
from sim.statics import Loads, Strict, assemble_system, weights
from sim.statics.glued import glued
from sim.units import MM_PER_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BALANCED = 1.0e-6  # of the weight: what lifting points may leave unbalanced
ATTITUDES = ("upright", "upside down", "on its left", "on its right", "on its front", "on its back")
_DOWN = np.array([[0, 0, -1], [0, 0, 1], [-1, 0, 0], [1, 0, 0], [0, -1, 0], [0, 1, 0]], dtype=np.float64)


def judge_module(stage: Stage, entry: ModuleEntry) -> ModuleAnswer:
    """Judge one module while it is lifted and turned; its joints count as cured."""
    index = {piece.id: k for k, piece in enumerate(stage.pieces)}
    own = np.array([index[name] for name in entry.pieces])
    mass = stage.dry.mass_kg[own]
    centre = mass @ stage.poses.position_m[own] / mass.sum()
    corners = np.concatenate([stage.pieces[k].vertices_m() for k in own])
    points = np.array(entry.lift_at_mm).reshape(-1, 3) / MM_PER_M
    if not len(points):
        points = _above(corners, centre)
    lift = lift_over_rim(stage.scene, float(mass.sum()), float(centre[1] * MM_PER_M), float(centre[2] * MM_PER_M))
    turned = [_handled(stage, own, _DOWN[k], None, ATTITUDES[k]) for k in range(len(_DOWN))]
    return ModuleAnswer(
        id=entry.id,
        pieces=entry.pieces,
        mass_kg=float(mass.sum()),
        centre_mm=_triple(centre),
        size_mm=_triple(np.ptp(corners, axis=0)),
        lift_at_mm=tuple(_triple(point) for point in points),
        lifted=_hung(stage, own, points, centre),
        turned=max(turned, key=_badness),
        rwl_kg=lift.limit_kg,
        lift_index=lift.index if np.isfinite(lift.index) else None,
        advice=lift.advice,
    )


def _above(corners_m: Floats, centre_m: Floats) -> Floats:
    """The highest point over the centre, within a tenth of the module's width: where one hand or sling takes it."""
    near = np.linalg.norm(corners_m[:, :2] - centre_m[:2], axis=1)
    close = corners_m[near <= max(0.1 * float(np.ptp(corners_m[:, :2], axis=0).max()), near.min())]
    return np.array([[*centre_m[:2], close[:, 2].max()]])


def _hung(stage: Stage, own: Ints, points_m: Floats, centre_m: Floats) -> Handling:
    down = _hangs(points_m, centre_m)
    across = np.eye(3) - np.outer(down, down)
    arms = (points_m - centre_m) @ across
    # forces against gravity, none of them pushing, whose sum is the weight and whose moments cancel
    sides = np.linalg.svd(across)[0][:, :2]
    reach = max(float(np.abs(arms).max()), 1.0e-3)
    rows = np.vstack([np.ones(len(points_m)), (arms @ sides).T / reach])
    share, left = nnls(rows, np.array([1.0, 0.0, 0.0]))
    if left > BALANCED:
        return Handling("tips", "lifted", None, None, "its centre of mass is not between its lifting points")
    return _handled(stage, own, down, (points_m, share), "lifted")


def _hangs(points_m: Floats, centre_m: Floats) -> Floats:
    """Which way is down (3,) for a module that hangs: one or two points let it swing."""
    down = np.array([0.0, 0.0, -1.0])
    if len(points_m) == 1:
        arm = centre_m - points_m[0]
        return np.asarray(arm / np.linalg.norm(arm)) if np.linalg.norm(arm) > 0.0 else down
    if len(points_m) == 2:
        line = points_m[1] - points_m[0]
        line /= np.linalg.norm(line)
        below = centre_m - points_m[0]
        below -= (below @ line) * line
        if np.linalg.norm(below) > 0.0:
            below /= np.linalg.norm(below)
            swung = (down @ line) * line + max(float(down @ below), 0.0) * below
            return np.asarray(swung / np.linalg.norm(swung)) if np.linalg.norm(swung) > 0.0 else below
    return down


def _handled(stage: Stage, own: Ints, down: Floats, slings: tuple[Floats, Floats] | None, attitude: str) -> Handling:
    """The module under 1.5 times its weight along `down`, held by its heaviest piece, or by slings and their shares."""
    mass = stage.dry.mass_kg
    inside = np.isin(np.arange(len(mass)), own)
    joints = tuple(j for j in stage.declared.joints if j.a in own and j.b in own)
    within = (stage.contacts.a >= 0) & (stage.contacts.b >= 0)
    within &= inside[np.maximum(stage.contacts.a, 0)] & inside[np.maximum(stage.contacts.b, 0)]
    fixed = ~inside
    fixed[own[np.argmax(mass[own])]] = True
    system = assemble_system(stage.poses.position_m, chosen_contacts(stage.contacts, within), fixed, joints)
    loads = _handling_loads(stage, own, down)
    for point, share in zip(*slings, strict=True) if slings is not None else ():
        piece = int(own[np.argmin([_distance(stage, int(k), point) for k in own])])
        pull = -down * share * HANDLING_FACTOR * float(np.linalg.norm(weights(mass[own]).force_n.sum(axis=0)))
        loads = loads.with_extra(piece, pull, point - stage.poses.position_m[piece])
    held = glued(system, loads)
    names = [piece.id for piece in stage.pieces]
    known = held.utilisation[np.isfinite(held.utilisation)]
    used = float(known.max()) if len(known) else None
    worst = int(np.nanargmax(held.utilisation)) if len(known) else None
    between = None if worst is None else (names[joints[worst].a], names[joints[worst].b])
    if held.verdict is Strict.UNKNOWN:
        return Handling("undetermined", attitude, used, between, held.note or "no sound answer")
    if held.verdict is Strict.FALLS:
        motion = np.abs(held.strict.motion if np.any(held.strict.motion) else held.feasibility.mechanism)
        first = names[int(motion.max(axis=1).argmax())] if np.any(motion) else names[int(own[0])]
        verdict = "breaks" if held.broken else "falls apart"
        return Handling(verdict, attitude, used, between, f"{first} comes off")
    return Handling("breaks" if held.broken else "holds", attitude, used, between, "")


def _handling_loads(stage: Stage, own: Ints, down: Floats) -> Loads:
    plain = weights(stage.dry.mass_kg)
    force = np.zeros_like(plain.force_n)
    force[own] = HANDLING_FACTOR * plain.weight_n[own, None] * down
    return replace(plain, force_n=force)


def _distance(stage: Stage, piece: int, point_m: Floats) -> float:
    return float(np.linalg.norm(stage.pieces[piece].vertices_m() - point_m, axis=1).min())


def _badness(one: Handling) -> tuple[int, float]:
    order = ("holds", "undetermined", "breaks", "tips", "falls apart")
    return order.index(one.verdict), one.utilisation or 0.0


def _triple(values_m: Floats) -> tuple[float, float, float]:
    x, y, z = (round(float(value) * MM_PER_M, 3) for value in values_m)
    return (x, y, z)
