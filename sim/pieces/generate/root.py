"""A root: a gnarled, branching piece of driftwood, bleached and split along the grain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.compiling import compiled
from sim.pieces.body import Floats
from sim.pieces.generate.noise import noise
from sim.pieces.generate.paint import blend
from sim.pieces.generate.solid import Solid

SMALLEST_MM, LARGEST_MM = np.array([200.0, 120.0, 210.0]), np.array([260.0, 160.0, 280.0])
SILVER, BROWN, DARK = np.array([196.0, 186.0, 168.0]), np.array([132.0, 106.0, 80.0]), np.array([74.0, 58.0, 44.0])
FILLET_MM = 16.0  # how far the wood swells where a branch leaves


@dataclass(frozen=True, slots=True)
class Limb:
    """One branch: points along its heart, and its radius there."""

    heart_mm: Floats  # (n, 3)
    radius_mm: Floats  # (n,)


def root(rng: np.random.Generator, size_mm: Floats, limbs: int = 5, faces: int = 16000) -> Solid:
    """Make a root of about `size_mm` with `limbs` branches, standing on its stump."""
    seed = int(rng.integers(2**30))
    skeleton = _fit(_grow(rng, limbs), size_mm)
    starts, ends, radii, owners, along, frames = _segments(skeleton)
    tips = np.array([limb.heart_mm[-1] for limb in skeleton])

    def grain(points: Floats) -> tuple[Floats, Floats]:
        """Distance to the smooth wood, and (n, 3) position across and along the grain."""
        distance, nearest, share = _nearest_wood(points, starts, ends, radii, owners, FILLET_MM)
        away = points - (starts[nearest] + share[:, None] * (ends - starts)[nearest])
        across = np.einsum("nij,nj->ni", frames[nearest], away)
        length = np.linalg.norm(ends - starts, axis=1)[nearest]
        return distance, np.column_stack([across, along[nearest] + share * length])

    def field(points: Floats) -> Floats:
        distance, fibre = grain(points)
        close = distance < 14.0  # detail is a few mm deep: leave the empty box alone
        distance[close] = detail(points[close], distance[close], fibre[close])
        return distance

    def detail(points: Floats, distance: Floats, fibre: Floats) -> Floats:
        fluted = 2.6 * noise(fibre / np.array([15.0, 15.0, 90.0]), seed + 1)
        split = 1.1 * np.abs(noise(fibre / np.array([5.0, 5.0, 60.0]), seed + 2, 2))
        lumps = 2.2 * noise(points / 30.0, seed + 3)
        wood = distance + fluted - split + lumps + 0.5
        ragged = 5.0 * noise(points / 5.0, seed + 4, 2)
        for tip, limb in zip(tips, skeleton, strict=True):
            heading = limb.heart_mm[-1] - limb.heart_mm[-2]
            heading = heading / np.linalg.norm(heading)
            # snapped ends are splintered, not round
            beyond = (points - tip) @ heading + ragged
            near = np.linalg.norm(points - tip, axis=1) < 2.5 * limb.radius_mm[-1] + 6.0
            wood = np.where(near, np.maximum(wood, beyond), wood)
        return wood

    def paint(points: Floats, normals: Floats) -> Floats:
        _, fibre = grain(points)
        streak = noise(fibre / np.array([3.5, 3.5, 70.0]), seed + 5, 2) + 0.5 * noise(points / 30.0, seed + 6)
        colours = blend(np.tile(SILVER, (len(points), 1)), BROWN, 0.35 + 1.1 * streak)
        hollow = 1.0 - np.clip(field(points + 3.0 * normals) / 3.0, 0.0, 1.0)
        colours = blend(colours, DARK, 0.7 * hollow)
        ends = np.min(np.linalg.norm(points[:, None] - tips, axis=2), axis=1)
        colours = blend(colours, BROWN, 0.5 - ends / 24.0)
        painted: Floats = colours * (1.0 + 0.10 * noise(points / 5.0, seed + 7, 2))[:, None]
        return painted

    lengths = np.linalg.norm(ends - starts, axis=1)
    area = 2.0 * np.pi * float((lengths * radii.mean(axis=1)).sum()) * 1.15
    low = np.min([limb.heart_mm.min(axis=0) - limb.radius_mm.max() for limb in skeleton], axis=0)
    high = np.max([limb.heart_mm.max(axis=0) + limb.radius_mm.max() for limb in skeleton], axis=0)
    return Solid(field, paint, low - 4.0, high + 4.0, area, faces)


def _grow(rng: np.random.Generator, limbs: int) -> list[Limb]:
    """A stump on short spreading roots, a leaning stem, and limbs that fork from it."""
    stem = _wander(rng, np.zeros(3), np.array([0.25, 0.0, 1.0]), 190.0, (25.0, 11.0), 0.22)
    skeleton = [stem]
    turn = rng.uniform(0.0, 2.0 * np.pi)
    for number in range(4):
        angle = turn + number * np.pi / 2.0 + rng.uniform(-0.4, 0.4)
        out = np.array([np.cos(angle), np.sin(angle), rng.uniform(-0.35, -0.1)])
        begin = stem.heart_mm[0] + np.array([0.0, 0.0, 8.0])
        skeleton.append(_wander(rng, begin, out, rng.uniform(45.0, 75.0), (17.0, 7.0), 0.15))
    for number in range(limbs):
        parent = stem if number < 3 else skeleton[int(rng.integers(5, len(skeleton)))]
        at = int(rng.integers(len(parent.heart_mm) // 3, len(parent.heart_mm) - 3))
        heading = parent.heart_mm[at + 1] - parent.heart_mm[at]
        angle = turn + number * 2.4  # the golden angle keeps limbs apart
        aside = np.array([np.cos(angle), np.sin(angle), rng.uniform(-0.3, 0.5)])
        thick = 0.72 * float(parent.radius_mm[at])
        length = rng.uniform(70.0, 130.0) * (1.0 if number < 3 else 0.6)
        skeleton.append(
            _wander(
                rng, parent.heart_mm[at], heading / np.linalg.norm(heading) + 1.3 * aside, length, (thick, 3.6), 0.3
            )
        )
    return skeleton


def _wander(
    rng: np.random.Generator, begin: Floats, heading: Floats, length_mm: float, taper: tuple[float, float], bend: float
) -> Limb:
    """A limb that sets out along `heading` and keeps bending, tapering as it goes."""
    count = max(int(length_mm / 11.0), 5)
    heart = [begin]
    heading = heading / np.linalg.norm(heading)
    pull = rng.normal(size=3)
    for _ in range(count):
        pull = 0.7 * pull + 0.7 * rng.normal(size=3)
        heading = heading + bend * pull * 0.6
        heading = heading / np.linalg.norm(heading)
        heart.append(heart[-1] + heading * length_mm / count)
    shares = np.linspace(0.0, 1.0, count + 1)
    swell = 1.0 + 0.10 * rng.normal(size=count + 1)
    return Limb(np.array(heart), (taper[0] + (taper[1] - taper[0]) * shares**0.8) * np.clip(swell, 0.8, 1.2))


def _fit(skeleton: list[Limb], size_mm: Floats) -> list[Limb]:
    """Stretch the hearts, not the thicknesses, so that the wood about fills its box."""
    low = np.min([(limb.heart_mm - limb.radius_mm[:, None]).min(axis=0) for limb in skeleton], axis=0)
    high = np.max([(limb.heart_mm + limb.radius_mm[:, None]).max(axis=0) for limb in skeleton], axis=0)
    factors = size_mm / (high - low)
    girth = float(np.cbrt(factors.prod()))
    return [Limb((limb.heart_mm - (low + high) / 2.0) * factors, limb.radius_mm * girth) for limb in skeleton]


def _segments(skeleton: list[Limb]) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """Flatten limbs to segments: starts, ends, radii (n, 2), owning limb, length before, cross frames (n, 2, 3)."""
    starts, ends, radii, owners, along, frames = [], [], [], [], [], []
    for owner, limb in enumerate(skeleton):
        before, side = 0.0, np.array([0.31, 0.95, 0.02])
        for i in range(len(limb.heart_mm) - 1):
            step = limb.heart_mm[i + 1] - limb.heart_mm[i]
            length = float(np.linalg.norm(step))
            # carry one direction along the limb so that the grain does not jump from segment to segment
            side = side - step * (side @ step) / length**2
            side = side / np.linalg.norm(side)
            frames.append(np.array([side, np.cross(step / length, side)]))
            starts.append(limb.heart_mm[i])
            ends.append(limb.heart_mm[i + 1])
            radii.append(limb.radius_mm[i : i + 2])
            owners.append(float(owner))
            along.append(before)
            before += length
    return tuple(np.array(column) for column in (starts, ends, radii, owners, along, frames))  # type: ignore[return-value]


@compiled  # type: ignore[untyped-decorator]
def _nearest_wood(
    points: Floats, starts: Floats, ends: Floats, radii: Floats, owners: Floats, fillet: float
) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Distance to tapered capsules: sharp within a limb, filleted between limbs."""
    distance, nearest = np.empty(len(points)), np.empty(len(points), dtype=np.int64)
    share = np.empty(len(points))
    for p in range(len(points)):
        total, limb, best, owner = 1e9, 1e9, 1e9, owners[0]
        for s in range(len(starts)):
            if owners[s] != owner:
                h = max(fillet - abs(total - limb), 0.0) / fillet
                total, limb, owner = min(total, limb) - h * h * fillet / 4.0, 1e9, owners[s]
            dot, square = 0.0, 0.0
            for a in range(3):
                step = ends[s, a] - starts[s, a]
                dot += (points[p, a] - starts[s, a]) * step
                square += step * step
            t = min(max(dot / square, 0.0), 1.0)
            gap = 0.0
            for a in range(3):
                gap += (points[p, a] - starts[s, a] - t * (ends[s, a] - starts[s, a])) ** 2
            d = np.sqrt(gap) - radii[s, 0] - t * (radii[s, 1] - radii[s, 0])
            limb = min(limb, d)
            if d < best:
                best, nearest[p], share[p] = d, s, t
        h = max(fillet - abs(total - limb), 0.0) / fillet
        distance[p] = min(total, limb) - h * h * fillet / 4.0
    return distance, nearest, share
