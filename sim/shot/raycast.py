"""Pictures by ray casting: no graphics card, no display, the same bytes everywhere.

Sun, sky and one bounce from the floor; open sky is baked per vertex, so that a
stone looks heavy where it meets its neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from sim.shot.ambient import SKY_RAYS, blocked, open_sky, unit
from sim.shot.camera import View
from sim.shot.uneven import uneven

Floats = NDArray[np.float64]

SUN_DIRECTION = np.array([-0.55, -0.75, 1.35]) / np.linalg.norm([-0.55, -0.75, 1.35])
SUN_RGB = np.array([1.00, 0.93, 0.82]) * 1.05
SKY_RGB = np.array([0.88, 0.94, 1.00]) * 0.52
BOUNCE_RGB = np.array([1.00, 0.92, 0.80]) * 0.25
BACKDROP_TOP = np.array([238, 240, 234])
BACKDROP_FOOT = np.array([214, 208, 194])
RAYS_AT_ONCE = 1_000_000
EVEN = 10  # of 255: neighbours that differ by no more are taken as they are
LIFT_M = 2.0e-5  # rays leave a surface this far off it, or they hit where they start


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A mesh to draw, in the tank's frame."""

    vertices_m: Floats  # (n, 3)
    faces: NDArray[np.int32]  # (m, 3)
    colours: NDArray[np.uint8]  # (n, 3) sRGB
    smooth: bool = True  # soften the facets of a scan
    line: bool = False  # a drawn line: neither shaded nor shading


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A drawn picture and, per pixel, which shape it shows."""

    rgb: NDArray[np.uint8]  # (height, width, 3)
    shape: NDArray[np.int32]  # (height, width), index into the shapes drawn, -1: backdrop


@dataclass(frozen=True, slots=True, eq=False)
class _Joined:
    """All shapes as one mesh, which is the fastest form for the ray caster."""

    faces: NDArray[np.int32]
    owner: NDArray[np.int32]  # (m,) shape of each face
    face_normals: Floats
    vertex_normals: Floats
    smooth: NDArray[np.bool_]  # (m,)
    line: NDArray[np.bool_]  # (m,)
    light: Floats  # (n, 3) linear albedo
    sky: Floats  # (n,) share of open sky
    scene: EmbreeScene  # what a camera sees
    solids: EmbreeScene  # what casts a shadow


def render(
    shapes: list[Shape], view: View, size_px: tuple[int, int], samples: int = 2, sky_rays: int = SKY_RAYS
) -> Picture:
    """Draw shapes as a pinhole camera sees them.

    Parameters
    ----------
    shapes : list of Shape
        In the tank's frame; may be empty.
    size_px : (width, height)
    samples : int
        Rays per pixel along each axis where a pixel differs from its neighbours; one ray elsewhere.
    sky_rays : int
        Rays into the sky per vertex: half of them do for a small picture.
    """
    width_px, height_px = size_px
    light = _backdrop(size_px)
    owner = np.full(len(light), -1, np.int32)
    if shapes:
        joined = _join(shapes, sky_rays)
        backdrop = light.copy()
        _trace(joined, view.position_m, view.directions(size_px), light, owner)
        shown, seen = to_srgb(light).astype(np.int16), owner[:, None]
        apart = uneven(shown.reshape(height_px, width_px, 3), EVEN) | uneven(seen.reshape(height_px, width_px, 1), 0)
        rough = np.flatnonzero(apart)
        steps = (np.arange(samples) + 0.5) / samples
        inside = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
        corner = np.column_stack([rough % width_px, rough // width_px])
        points = (corner[:, None] + inside[None]).reshape(-1, 2)
        fine = np.repeat(backdrop[rough], len(inside), axis=0)
        _trace(joined, view.position_m, view.through(points, size_px), fine, np.empty(len(fine), np.int32))
        light[rough] = fine.reshape(len(rough), -1, 3).mean(axis=1)
    return Picture(to_srgb(light).reshape(height_px, width_px, 3), owner.reshape(height_px, width_px))


def _trace(joined: _Joined, eye_m: Floats, directions: Floats, light: Floats, owner: NDArray[np.int32]) -> None:
    """Trace rays in batches and write light and owner in place."""
    for start in range(0, len(directions), RAYS_AT_ONCE):
        part = slice(start, start + RAYS_AT_ONCE)
        _shade(joined, eye_m, directions[part], light[part], owner[part])


def to_linear(srgb: NDArray[np.uint8]) -> Floats:
    """Decode sRGB (IEC 61966-2-1) bytes into linear light."""
    value = srgb.astype(np.float64) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def to_srgb(light: Floats) -> NDArray[np.uint8]:
    """Encode linear light as sRGB (IEC 61966-2-1) bytes."""
    value = np.clip(light, 0.0, 1.0)
    coded = np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(coded * 255.0), dtype=np.uint8)


def _join(shapes: list[Shape], sky_rays: int) -> _Joined:
    offsets = np.cumsum([0, *(len(shape.vertices_m) for shape in shapes)])
    vertices = np.concatenate([shape.vertices_m for shape in shapes])
    faces = np.concatenate([shape.faces + offset for shape, offset in zip(shapes, offsets, strict=False)]).astype(
        np.int32
    )
    counts = [len(shape.faces) for shape in shapes]
    owner = np.repeat(np.arange(len(shapes), dtype=np.int32), counts)
    corners = vertices[faces]
    crosses = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    vertex_normals = np.zeros_like(vertices)
    for corner in range(3):
        np.add.at(vertex_normals, faces[:, corner], crosses)  # area-weighted
    line = np.repeat([shape.line for shape in shapes], counts)
    scene, solids = EmbreeScene(), EmbreeScene()
    TriangleMesh(scene, vertices.astype(np.float32), faces)
    if not line.all():
        TriangleMesh(solids, vertices.astype(np.float32), faces[~line])
    normals = unit(vertex_normals)
    return _Joined(
        faces=faces,
        owner=owner,
        face_normals=unit(crosses),
        vertex_normals=normals,
        smooth=np.repeat([shape.smooth for shape in shapes], counts),
        line=line,
        light=to_linear(np.concatenate([shape.colours for shape in shapes])),
        sky=open_sky(solids, vertices, normals, sky_rays),
        scene=scene,
        solids=solids,
    )


def _shade(joined: _Joined, eye_m: Floats, directions: Floats, rgb: Floats, owner: NDArray[np.int32]) -> None:
    """Trace one batch of rays and write colour and owner in place."""
    origins = np.repeat(eye_m[None].astype(np.float32), len(directions), axis=0)
    hits = joined.scene.run(origins, directions.astype(np.float32), output=True)
    seen = np.flatnonzero(hits["geomID"] != -1)
    if not len(seen):
        return
    face = hits["primID"][seen]
    u, v = hits["u"][seen, None].astype(float), hits["v"][seen, None].astype(float)
    corners = joined.faces[face]
    weights = np.concatenate([1.0 - u - v, u, v], axis=1)
    flat = joined.face_normals[face]
    soft = unit(np.einsum("nk,nkj->nj", weights, joined.vertex_normals[corners]))
    # across a sharp edge the mean normal is wrong for both sides: keep the facet there
    use_soft = joined.smooth[face] & ((soft * flat).sum(axis=1) > 0.82)
    normal = np.where(use_soft[:, None], soft, flat)
    facing = np.sign(-(flat * directions[seen]).sum(axis=1))[:, None]
    normal, flat = normal * facing, flat * facing
    points = eye_m + directions[seen] * hits["tfar"][seen, None] + flat * LIFT_M * 5
    lit = ~blocked(joined.solids, points, np.repeat(SUN_DIRECTION[None], len(seen), axis=0), 1e3)
    sun = np.clip(normal @ SUN_DIRECTION, 0.0, None) * lit
    sky = np.einsum("nk,nk->n", weights, joined.sky[corners])
    albedo = np.einsum("nk,nkj->nj", weights, joined.light[corners])
    upward = normal[:, 2]
    light = (
        sun[:, None] * SUN_RGB
        + (sky * (0.62 + 0.38 * upward))[:, None] * SKY_RGB
        + (sky * (0.5 - 0.5 * upward))[:, None] * BOUNCE_RGB
    )
    rgb[seen] = np.where(joined.line[face, None], albedo, albedo * light)
    owner[seen] = joined.owner[face]


def _backdrop(size_px: tuple[int, int]) -> Floats:
    """Paper-coloured gradient from top to foot, in linear light: (height * width, 3)."""
    share = np.linspace(0.0, 1.0, size_px[1])[:, None]
    rows = to_linear(np.round(BACKDROP_TOP * (1 - share) + BACKDROP_FOOT * share).astype(np.uint8))
    return np.repeat(rows, size_px[0], axis=0)
