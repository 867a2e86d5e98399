"""Layered rock: beds of uneven thickness, each broken along the same joints but not in the same place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.pieces.body import Floats
from sim.pieces.generate.noise import noise
from sim.pieces.generate.paint import PALETTES, bands, weather
from sim.pieces.generate.solid import Solid, smooth_max


@dataclass(frozen=True, slots=True)
class Bedding:
    """How a layered piece is bedded and broken."""

    bed_mm: tuple[float, float]  # thinnest and thickest bed
    step_mm: float  # how far one bed's broken edge stands before or behind the next
    sides: tuple[float, ...]  # directions of the joints in degrees, before they are jittered
    jitter_deg: float
    squareness: float  # exponent of the outline that the joints touch: 2 round, large square
    cut: tuple[float, float]  # how far in the joints lie, as shares of that outline
    spall: float  # share of the top that the uppermost bed may have lost
    chips: int


def layered(rng: np.random.Generator, size_mm: Floats, bedding: Bedding, rock: str, faces: int) -> Solid:
    """Make a piece of bedded rock of about `size_mm`."""
    half = size_mm / 2.0
    seed = int(rng.integers(2**30))
    levels = _levels(rng, size_mm[2], bedding.bed_mm)
    joints, distances = _joints(rng, half, bedding)
    offsets = _offsets(rng, len(levels) - 1, len(joints), bedding.step_mm)
    joints, distances, offsets = _spall(rng, half, bedding.spall, joints, distances, offsets)
    scoops = _scoops(rng, half, joints, distances, bedding.chips)
    dip = rng.uniform(-0.02, 0.02, 2)

    def height(points: Floats) -> Floats:
        flat = points * np.array([1.0, 1.0, 0.0])
        lifted: Floats = points[:, 2] + points[:, :2] @ dip + 1.6 * noise(flat / 70.0, seed + 1)
        return lifted

    def field(points: Floats) -> Floats:
        bed_height = height(points)
        # wrinkles run along the bedding, so they look like laminae where the edge is broken
        laminar = np.column_stack([points[:, :2] / 16.0, bed_height / 4.5])
        wrinkle = 1.0 * noise(laminar, seed + 2, 2) + 3.2 * noise(points / 40.0, seed + 3)
        # cross joints: the edge jogs in and out by small steps instead of waving
        wrinkle += bedding.step_mm * np.tanh(7.0 * noise(points / np.array([30.0, 30.0, 14.0]), seed + 8))
        across = points[:, :2] @ joints.T - distances
        own = np.clip(np.searchsorted(levels, bed_height) - 1, 0, len(levels) - 2)
        inside = np.full(len(points), np.inf)
        for shift in (-1, 0, 1):
            bed = np.clip(own + shift, 0, len(levels) - 2)
            side = (across - offsets[bed]).max(axis=1) + wrinkle
            middle, thick = (levels[bed] + levels[bed + 1]) / 2.0, levels[bed + 1] - levels[bed]
            # beds overlap a little: two that only touched would come apart
            inside = np.minimum(inside, smooth_max(side, np.abs(bed_height - middle) - thick / 2.0 - 0.4, 2.2))
        rough = 0.45 * noise(points / 7.0, seed + 4, 2) + 0.8 * noise(points / 24.0, seed + 5)
        chipped = inside + rough
        for centre, radius in scoops:
            chipped = smooth_max(chipped, radius - np.linalg.norm(points - centre, axis=1), 0.8)
        return chipped

    def paint(points: Floats, normals: Floats) -> Floats:
        wavy = height(points) + 0.5 * noise(points / 12.0, seed + 6)
        colours = bands(wavy, seed + 7, PALETTES[rock], 1.6, 6.0)
        return weather(colours, points, normals, field, seed, 0.5)

    area = 1.7 * float(size_mm[0] * size_mm[1] + size_mm[1] * size_mm[2] + size_mm[2] * size_mm[0])
    margin = 6.0
    return Solid(field, paint, -half - margin, half + margin, area, faces)


def _levels(rng: np.random.Generator, thickness_mm: float, bed_mm: tuple[float, float]) -> Floats:
    """Heights of the bedding planes from the underside to the top."""
    beds = [rng.uniform(*bed_mm)]
    while sum(beds) < thickness_mm - 3.0:
        # a bed thinner than 4 mm that lies back would leave a slot too narrow to mesh
        beds.append(max(rng.uniform(*bed_mm) * (0.45 if rng.random() < 0.3 else 1.0), 4.0))
    levels: Floats = np.concatenate([[0.0], np.cumsum(beds)])
    return np.asarray((levels / levels[-1] - 0.5) * thickness_mm)


def _joints(rng: np.random.Generator, half: Floats, bedding: Bedding) -> tuple[Floats, Floats]:
    """Outward directions (m, 2) of the joints and their distances (m,) from the middle."""
    angles = np.radians(np.asarray(bedding.sides) + rng.uniform(-1.0, 1.0, len(bedding.sides)) * bedding.jitter_deg)
    joints = np.column_stack([np.cos(angles), np.sin(angles)])
    # support of the outline |x/a|^p + |y/b|^p = 1 in each direction, by the dual exponent
    dual = bedding.squareness / (bedding.squareness - 1.0)
    support = (np.abs(joints * half[:2]) ** dual).sum(axis=1) ** (1.0 / dual)
    return joints, support * rng.uniform(*bedding.cut, len(joints))


def _offsets(rng: np.random.Generator, beds: int, joints: int, step_mm: float) -> Floats:
    """How far (beds, joints) each bed's edge stands out from its joint."""
    offsets = np.zeros((beds, joints))
    running = np.zeros(joints)
    for bed in range(beds):
        running = 0.55 * running + rng.normal(0.0, step_mm * 0.7, joints)
        soft = step_mm * rng.uniform(0.6, 1.3) if rng.random() < 0.3 else 0.0
        offsets[bed] = np.clip(running, -2.0 * step_mm, 1.2 * step_mm) - soft
    return offsets


def _spall(
    rng: np.random.Generator, half: Floats, share: float, joints: Floats, distances: Floats, offsets: Floats
) -> tuple[Floats, Floats, Floats]:
    """Add a joint that only the uppermost bed, and partly the next, was lost along."""
    if share <= 0.0:
        return joints, distances, offsets
    angle = rng.uniform(0.0, 2.0 * np.pi)
    joint = np.array([np.cos(angle), np.sin(angle)])
    reach = float(np.abs(joint * half[:2]).sum())
    only = np.full((len(offsets), 1), 1000.0)
    only[-1] = 0.0
    if len(offsets) > 3:
        only[-2] = rng.uniform(0.5, 0.9) * share * reach
    return (
        np.vstack([joints, joint]),
        np.append(distances, reach * (1.0 - 2.0 * share * rng.uniform(0.6, 1.0))),
        np.hstack([offsets, only]),
    )


def _scoops(
    rng: np.random.Generator, half: Floats, joints: Floats, distances: Floats, count: int
) -> list[tuple[Floats, float]]:
    """Spheres whose caps are missing from the arrises: conchoidal chips."""
    scoops = []
    for _ in range(count):
        which = int(rng.integers(len(joints)))
        normal, along = joints[which], np.array([-joints[which][1], joints[which][0]])
        radius = float(rng.uniform(10.0, 28.0))
        depth = float(rng.uniform(2.0, 5.5))
        up = (1.0 if rng.random() < 0.6 else -1.0) * rng.uniform(0.4, 0.9)
        spot = normal * distances[which] + along * rng.uniform(-0.6, 0.6) * half[:2].min()
        spot_mm = np.array([*spot, np.sign(up) * half[2]])
        outward = np.array([*normal, up]) / np.hypot(1.0, up)
        scoops.append((spot_mm + outward * (radius - depth), radius))
    return scoops
