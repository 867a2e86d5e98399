"""All contacts of an assembly at given poses: the arrays that statics works on."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from sim.contact.assembly import Assembly, Poses, friction_between
from sim.contact.nearness import EDGE_SLACK_M, candidates, touches
from sim.contact.patches import patches_of_pairs
from sim.contact.relaxing import near_pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CONTACT_M = 2.5e-5  # dry stones bear on each other where they are nearer than this


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """One row per patch: where a piece bears on another or on a plane."""

    a: Ints  # (p,) upper index of the pair
    b: Ints  # (p,) other piece, or a plane's negative index
    centre_m: Floats  # (p, 3)
    normal: Floats  # (p, 3) from b to a
    area_m2: Floats  # (p,) of the convex outline, zero for a point or a line
    gap_m: Floats  # (p,) least gap


@dataclass(frozen=True, slots=True, eq=False)
class Contacts:
    """Contact points (corners of patches) as plain arrays; the input of every statics function."""

    a: Ints  # (k,)
    b: Ints  # (k,) negative: a plane (see `assembly`)
    point_m: Floats  # (k, 3)
    normal: Floats  # (k, 3) from b to a
    gap_m: Floats  # (k,) least gap of the patch
    area_m2: Floats  # (k,) share of the patch's area
    patch: Ints  # (k,) index into `patches`
    mu: Floats  # (k,) friction
    patches: Patches


def find_contacts(assembly: Assembly, poses: Poses, reach_m: float = CONTACT_M) -> Contacts:
    """Find where pieces, base and panes bear on each other.

    Parameters
    ----------
    reach_m : gaps below this count as contact. 25 um for dry stones; glue bridges more.

    Notes
    -----
    Overlaps deeper than `reach_m` at a sample are no contacts: look for them with `overlaps`.
    """
    free = ~assembly.fixed
    pair_a, pair_b = near_pairs(assembly, poses, free, reach_m)
    single = (pair_a > pair_b) | (pair_b < 0)
    pair_a, pair_b = pair_a[single], pair_b[single]
    shares = [(pair_a[part], pair_b[part]) for part in np.array_split(np.arange(len(pair_a)), _threads()) if len(part)]

    def work(share: tuple[Ints, Ints]) -> tuple[Floats, Floats]:
        return _patches_of_pairs(assembly, poses, *share, reach_m)

    if len(shares) > 1 and len(pair_a) > 8:
        with ThreadPoolExecutor(len(shares)) as pool:
            results = list(pool.map(work, shares))
    else:
        results = [work(share) for share in shares]
    return _gathered(results, assembly)


def chosen_contacts(contacts: Contacts, chosen: Ints | NDArray[np.bool_]) -> Contacts:
    """Some of the contacts; patches keep their numbers."""
    return replace(
        contacts,
        a=contacts.a[chosen],
        b=contacts.b[chosen],
        point_m=contacts.point_m[chosen],
        normal=contacts.normal[chosen],
        gap_m=contacts.gap_m[chosen],
        area_m2=contacts.area_m2[chosen],
        patch=contacts.patch[chosen],
        mu=contacts.mu[chosen],
    )


def with_own_patches(contacts: Contacts) -> Contacts:
    """The same contacts with no patches but their own, numbered from 0."""
    numbers, patch = np.unique(contacts.patch, return_inverse=True)
    patches = Patches(*(getattr(contacts.patches, one.name)[numbers] for one in fields(Patches)))
    return replace(contacts, patch=patch.astype(np.int64), patches=patches)


def renumbered_contacts(contacts: Contacts, numbers: Ints) -> Contacts:
    """The same contacts between pieces that go by other numbers: k by `numbers[k]`; planes keep theirs."""

    def new(index: Ints) -> Ints:
        return np.where(index < 0, index, numbers[np.maximum(index, 0)])

    patches = replace(contacts.patches, a=new(contacts.patches.a), b=new(contacts.patches.b))
    return replace(contacts, a=new(contacts.a), b=new(contacts.b), patches=patches)


def joined_contacts(parts: Sequence[Contacts]) -> Contacts:
    """Several contacts, at least one, as one; each part's patches follow those of the part before it."""
    offsets = np.cumsum([0, *(len(part.patches.a) for part in parts)])
    patches = Patches(*(np.concatenate([getattr(part.patches, one.name) for part in parts]) for one in fields(Patches)))
    columns = {
        one.name: np.concatenate([getattr(part, one.name) for part in parts])
        for one in fields(Contacts)
        if one.name not in ("patch", "patches")
    }
    patch = np.concatenate([part.patch + offset for part, offset in zip(parts, offsets, strict=False)])
    return Contacts(**columns, patch=patch, patches=patches)


def _threads() -> int:
    return max(1, min(8, os.cpu_count() or 1))


def _gathered(results: list[tuple[Floats, Floats]], assembly: Assembly) -> Contacts:
    corners = [result[0] for result in results] or [np.zeros((0, 11))]
    offsets = np.cumsum([0, *(len(result[1]) for result in results)])
    for corner, offset in zip(corners, offsets, strict=False):
        corner[:, 8] += offset
    rows = np.concatenate(corners)
    patch_rows = np.concatenate([result[1] for result in results] or [np.zeros((0, 10))])
    a, b = rows[:, 9].astype(np.int64), rows[:, 10].astype(np.int64)
    return Contacts(
        a=a,
        b=b,
        point_m=rows[:, 0:3],
        normal=rows[:, 3:6],
        gap_m=rows[:, 6],
        area_m2=rows[:, 7],
        patch=rows[:, 8].astype(np.int64),
        mu=friction_between(assembly, a, b),
        patches=Patches(
            a=patch_rows[:, 8].astype(np.int64),
            b=patch_rows[:, 9].astype(np.int64),
            centre_m=patch_rows[:, 0:3],
            normal=patch_rows[:, 3:6],
            area_m2=patch_rows[:, 6],
            gap_m=patch_rows[:, 7],
        ),
    )


def _patches_of_pairs(
    assembly: Assembly, poses: Poses, pair_a: Ints, pair_b: Ints, reach_m: float
) -> tuple[Floats, Floats]:
    """Corners (c, 11) and patches (p, 10) of unordered pairs; the last two columns name the pair."""
    # both ways round, one after the other; a plane has no samples
    both = np.column_stack([np.ones(len(pair_a), np.bool_), pair_b >= 0]).ravel()
    ordered = (np.column_stack([pair_a, pair_b]).ravel()[both], np.column_stack([pair_b, pair_a]).ravel()[both])
    index, near = candidates(
        assembly, poses.rotation, poses.position_m, *ordered, reach_m + EDGE_SLACK_M, corners_only=False
    )
    rows = touches(
        assembly.mesh, assembly.samples, assembly.bodies, assembly.planes, poses.rotation, poses.position_m,
        *ordered, index, near, 0.0, reach_m,
    )  # fmt: skip
    rows = rows[rows[:, 6] > -4.0 * reach_m]
    way = np.flatnonzero(both)[index[rows[:, 8].astype(np.int64), 0]]
    rows[way % 2 == 1, 3:6] *= -1.0
    corners, patches = patches_of_pairs(rows, way // 2)
    return _named(corners, pair_a, pair_b), _named(patches, pair_a, pair_b)


def _named(rows: Floats, pair_a: Ints, pair_b: Ints) -> Floats:
    """The rows with the two pieces in place of the pair's number, which is last."""
    pair = rows[:, -1].astype(np.int64)
    return np.column_stack([rows[:, :-1], pair_a[pair], pair_b[pair]])
