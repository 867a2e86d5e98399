"""Where a hand or a prop is needed, so that a part of a stack stands that would not by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import BASE
from sim.order.judging import Hold, Part, Standing, moving_in, system_of
from sim.order.problem import Problem, bits
from sim.statics import Loads, Strict, assemble_system
from sim.statics.glued import Glued, glued

Floats = NDArray[np.float64]


def with_holds(problem: Problem, fallen: tuple[Part, Standing]) -> Standing:
    """Where a part falls, the fewest holds, greedily, with which it stands; none where none help."""
    part, answer = fallen
    return replace(answer, holds=_holds(problem, part, answer.moving))


def _holds(problem: Problem, part: Part, moving: tuple[int, ...]) -> tuple[Hold, ...]:
    """Where to hold: a prop under the edge of one moving piece if that is enough, else hands on as few as possible."""
    for piece in moving:
        spots = zip(problem.edges_m[piece], problem.beneath[piece], strict=True)
        # what is set later is not in the way yet; the prop is gone by then
        free = [at_m for at_m, under in spots if not under & part[0]]
        props = [prop for at_m in free if (prop := _propped(problem, part, piece, at_m))]
        if props:
            return (min(props, key=lambda prop: prop.force_n[2]),)
    held: list[int] = []
    while moving:
        for piece in moving:
            holds, _ = _held(problem, part, [*held, piece])
            if holds:
                return holds
        held.append(moving[0])
        _, moving = _held(problem, part, held)
    return ()


def _propped(problem: Problem, part: Part, piece: int, at_m: Floats) -> Hold | None:
    """A prop without friction under one point of a piece, where the part then stands."""
    system, loads, index = system_of(problem, part, ())
    contacts = system.contacts
    area_m2 = float(contacts.area_m2.mean()) if len(contacts.a) else 1.0e-4
    more = replace(
        contacts,
        a=np.append(contacts.a, index[piece]),
        b=np.append(contacts.b, BASE),
        point_m=np.vstack([contacts.point_m, at_m]),
        normal=np.vstack([contacts.normal, [0.0, 0.0, 1.0]]),
        gap_m=np.append(contacts.gap_m, 0.0),
        area_m2=np.append(contacts.area_m2, area_m2),
        patch=np.append(contacts.patch, contacts.patch.max(initial=-1) + 1),
        mu=np.append(contacts.mu, 0.0),
    )
    answer = glued(assemble_system(system.centre_m, more, ~system.free, system.joints), loads)
    if answer.verdict is not Strict.STANDS:
        return None
    x, y, z = (float(value) for value in at_m)
    return Hold(piece, (0.0, 0.0, float(answer.strict.forces_n[-1, 0])), (x, y, z))


def _held(problem: Problem, part: Part, held: list[int]) -> tuple[tuple[Hold, ...], tuple[int, ...]]:
    """What the hands give when these pieces are held; empty, and what then moves, when it still falls."""
    system, loads, index = system_of(problem, part, held)
    answer = glued(system, loads)
    if answer.verdict is Strict.UNKNOWN:
        return (), ()
    if answer.verdict is Strict.FALLS:
        free = [piece for piece in bits(part[0]) if piece not in held]
        return (), moving_in(answer, loads, index, free)
    return tuple(Hold(piece, _given(answer, loads, index[piece]), None) for piece in held), ()


def _given(answer: Glued, loads: Loads, k: int) -> tuple[float, float, float]:
    """Force that a hand gives to a piece: what its neighbours leave of its weight."""
    system, contacts = answer.left, answer.left.contacts
    force = np.einsum("ki,kij->kj", answer.strict.forces_n, system.frame)
    total = loads.force_n[k] + force[contacts.a == k].sum(axis=0) - force[contacts.b == k].sum(axis=0)
    for joint, wrench in zip(system.joints, answer.strict.joints_n, strict=True):
        pull = joint.patch.axes.T @ np.array([wrench[0], wrench[1], wrench[2]])
        total = total - pull * (joint.a == k) + pull * (joint.b == k)
    x, y, z = (float(-value) for value in total)
    return (x, y, z)
