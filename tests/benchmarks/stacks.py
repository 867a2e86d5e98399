"""Seeded stacks of irregular stones, from two to forty pieces, for the tables in this folder.

Glossary
--------
kind     how a stack is built: pier, heap, wall, bridge, cantilever or leaning
shift    how far stones are moved sideways, as a share of what the textbook's blocks of the same
         size would bear: 0 is a careful builder, and about 1 the limit of equal blocks
placed   each stone straight down, in order, until it touches what lies there: a first guess by eye
seated   set down from there, each onto those before it held still (`settle_in_order`); stones that
         find no rest are left out and named. The whole may fall all the same: a support can tip
relaxed  then all of them let go together, as stones do in earnest: they rock onto what carries them.
         A stone that goes farther than `FELL_M`, or no rest in the steps allowed, leaves the stack as
         it was seated: one that falls
care     the builder looks after every stone: one that would leave the whole a critical tilt under
         `care_deg` is taken away again

Same quarry, kind, seed and shift: same stack.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from layouts import KINDS
from numpy.typing import NDArray
from quarry import ROCK, Quarry, Stone

from sim.contact import BASE, Assembly, Poses, Rest, clearance, find_contacts, relax, set_down
from sim.contact.settling import settle_in_order, stand_up
from sim.materials import rock
from sim.pieces.placing import PlacedPiece, entry_from_pose, moved
from sim.scene import Scene, parse_scene
from sim.statics import Feasible, assemble_system, critical_tilt, feasible, weights

Floats = NDArray[np.float64]

HEAD = """format = 1
[tank]
inner_mm = [1200, 700, 600]
base_mm = 12
side_mm = 12
under_stones = { kind = "sheet", thickness_mm = 4 }
"""
MIDDLE_M = np.array([0.6, 0.35])
RELAX_STEPS = 300
FELL_M = 0.01
ENOUGH = "not needed"
TOUCH_M = 6.0e-6  # a placed stone stops so far above the first point that it meets


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Stones that stand together, or that somebody hopes will."""

    kind: str
    seed: int
    shift: float
    assembly: Assembly
    poses: Poses
    names: list[str]
    pieces: list[PlacedPiece]  # at `poses`
    scene: Scene
    text: str  # of the scene file; meshes of scans with their whole path
    left_out: dict[str, str]  # why stones are not there


def build(
    stones: Quarry,
    kind: str,
    seed: int,
    shift: float,
    count: int = 0,
    scanned: bool = False,
    seated: bool = True,
    relaxed: bool = False,
    care_deg: float | None = None,
    most: int | None = None,
) -> Stack:
    """Build a stack.

    Parameters
    ----------
    kind : a key of `KINDS`
    count : about how many stones; 0 draws it from the seed
    scanned : scans instead of generated stones, but for the long ones and the bed
    seated : let every stone come to rest on those before it; else as placed
    relaxed : let go of all stones together afterwards
    care_deg : least critical tilt that the builder lets pass while seating; None: does not look
    most : the builder stops once so many stones rest; None: uses them all
    """
    rng = np.random.default_rng([seed, list(KINDS).index(kind)])
    laid = KINDS[kind](stones, rng, shift, count, scanned)
    own, turns = [one.stone for one in laid], [one.turn for one in laid]
    assembly, poses = stand(own, turns, [MIDDLE_M + one.at_m for one in laid])
    names = [f"stone_{k + 1}" for k in range(len(own))]
    place(assembly, poses)
    left_out: dict[int, str] = {}
    if seated and care_deg is None:
        outcome = settle_in_order(assembly, poses, names)
        poses = outcome.poses
        left_out = {k: one.rest.value for k, one in enumerate(outcome.pieces) if one.rest is not Rest.AT_REST}
        resting = [k for k in range(len(own)) if k not in left_out]
        left_out |= dict.fromkeys(resting[most:], ENOUGH) if most is not None else {}
    elif seated and care_deg is not None:
        left_out = _seat_with_care(assembly, poses, own, care_deg, most)
    keep = np.array([k for k in range(len(own)) if k not in left_out], dtype=np.intp)
    assembly, poses = _part(poses, own, keep)
    if relaxed and len(keep):
        poses = _let_go(assembly, poses)
    out = {names[k]: why for k, why in left_out.items()}
    blank = _pieces([own[k] for k in keep], [turns[k] for k in keep], [MIDDLE_M] * len(keep))
    pieces = [
        moved(replace(piece, id=names[k]), rotation, position_m)
        for k, piece, rotation, position_m in zip(keep, blank, poses.rotation, poses.position_m, strict=True)
    ]
    entries = (_entry(piece, own[k].source) for k, piece in zip(keep, pieces, strict=True))
    text = HEAD + "".join(entries)
    return Stack(
        kind, seed, shift, assembly, poses, [piece.id for piece in pieces], pieces, parse_scene(text), text, out
    )


def _let_go(assembly: Assembly, poses: Poses) -> Poses:
    """Where all stones come to rest together; where they started if they do not, or fall on the way."""
    loose = relax(assembly, poses, np.ones(len(poses.position_m), np.bool_), None, RELAX_STEPS, FELL_M)
    return loose.poses if loose.at_rest and loose.moved_m.max() < FELL_M else poses


def _seat_with_care(
    assembly: Assembly, poses: Poses, stones: list[Stone], care_deg: float, most: int | None
) -> dict[int, str]:
    """Seat stone by stone, taking away what finds no rest or leaves too little margin; poses change in place."""
    there = np.zeros(len(stones), np.bool_)
    left_out = {}
    for k in range(len(stones)):
        if most is not None and there.sum() == most:
            left_out[k] = ENOUGH
            continue
        seated = set_down(assembly, poses, k, there)
        if seated.rest is not Rest.AT_REST:
            left_out[k] = seated.rest.value
            continue
        poses.rotation[k], poses.position_m[k] = seated.rotation, seated.position_m
        there[k] = True
        if least_tilt_deg(*_part(poses, stones, np.flatnonzero(there))) < care_deg:
            there[k] = False
            left_out[k] = "taken away with care"
    return left_out


def least_tilt_deg(assembly: Assembly, poses: Poses) -> float:
    """Critical tilt of a dry stack in air; -1 where it does not stand level or no answer was found."""
    system = assemble_system(poses.position_m, find_contacts(assembly, poses), assembly.fixed)
    loads = weights(assembly.mass_kg)
    if feasible(system, loads).status is not Feasible.YES:
        return -1.0
    tilt_deg = critical_tilt(system, loads).least_deg
    return tilt_deg if np.isfinite(tilt_deg) else -1.0


def _part(poses: Poses, stones: list[Stone], keep: NDArray[np.intp]) -> tuple[Assembly, Poses]:
    """Some of the stones where they are."""
    part, there = stand([stones[k] for k in keep], list(poses.rotation[keep]), list(poses.position_m[keep, :2]))
    there.position_m[:] = poses.position_m[keep]
    return part, there


def stand(stones: list[Stone], turns: list[Floats], at_m: list[Floats]) -> tuple[Assembly, Poses]:
    """Stones in the tank, turned (3, 3) and with their centres over (2,), at no height yet."""
    return stand_up(parse_scene(HEAD), _pieces(stones, turns, at_m))


def _pieces(stones: list[Stone], turns: list[Floats], at_m: list[Floats]) -> list[PlacedPiece]:
    density = rock(ROCK).density_kg_m3.default
    return [
        PlacedPiece(f"stone_{k + 1}", stone.body, rock(ROCK), density, density * stone.body.volume_m3, turn,
                    np.array([*at, 0.0]))
        for k, (stone, turn, at) in enumerate(zip(stones, turns, at_m, strict=True))
    ]  # fmt: skip


def _entry(piece: PlacedPiece, source: str) -> str:
    at_mm, turn_deg = entry_from_pose(piece.body, piece.rotation, piece.position_m)
    return (
        f'[[piece]]\nid = "{piece.id}"\n{source}\nrock = "{ROCK}"\nat_mm = {list(at_mm)}\nturn_deg = {list(turn_deg)}\n'
    )


def place(assembly: Assembly, poses: Poses) -> None:
    """Lower each stone, in order, straight down from above everything; poses change in place."""
    top_m = 0.0
    for k in range(len(poses.position_m)):
        height_m = _heights(assembly, poses, k)
        poses.position_m[k, 2] = top_m + 1e-3 - height_m[0]
        others = np.array([BASE, *range(k)])
        for _ in range(80):
            gap_m = clearance(assembly, poses, k, others, 1.0)
            if gap_m < 2.0 * TOUCH_M:
                break
            poses.position_m[k, 2] -= gap_m - TOUCH_M
        top_m = max(top_m, float(poses.position_m[k, 2] + height_m[1]))


def _heights(assembly: Assembly, poses: Poses, k: int) -> tuple[float, float]:
    """Lowest and highest sample of a stone about its centre."""
    bodies, samples = assembly.bodies, assembly.samples
    clusters = slice(bodies.cluster_start[k], bodies.cluster_end[k])
    own = samples.point[samples.cluster_start[clusters].min() : samples.cluster_end[clusters].max()]
    z = own @ poses.rotation[k][2]
    return float(z.min()), float(z.max())
