"""Mass properties of closed meshes, exact for the polyhedron that the mesh is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from trimesh.triangles import mass_properties as _triangle_integrals

from sim.errors import MeshError
from sim.pieces.body import Body, Colours, Faces, Floats


@dataclass(frozen=True, slots=True, eq=False)
class MassProperties:
    """Integrals over a closed polyhedron of density 1."""

    volume_m3: float
    area_m2: float
    centre_m: Floats  # (3,)
    inertia_m5: Floats  # (3, 3), about the centre, in the axes of the mesh


def mass_properties(vertices_m: Floats, faces: Faces) -> MassProperties:
    """Integrate volume, centre and inertia over a closed, outward-oriented mesh.

    Parameters
    ----------
    vertices_m : (n, 3) array, metres
    faces : (m, 3) integer array, counter-clockwise seen from outside

    Returns
    -------
    MassProperties
        Exact up to rounding: the divergence theorem turns each integral into a sum over faces.

    References
    ----------
    Eberly, D. (2002). Polyhedral Mass Properties (Revisited).
    """
    # far from the origin the face sums cancel badly, so integrate about the middle of the box
    middle_m = (vertices_m.min(axis=0) + vertices_m.max(axis=0)) / 2.0
    triangles_m = (vertices_m - middle_m)[faces]
    crosses = np.cross(triangles_m[:, 1] - triangles_m[:, 0], triangles_m[:, 2] - triangles_m[:, 0])
    with np.errstate(invalid="ignore", divide="ignore"):  # a flat mesh has no centre: NaN, which callers refuse
        integrals = _triangle_integrals(triangles_m, crosses=crosses)
    return MassProperties(
        volume_m3=float(integrals.volume),
        area_m2=float(np.linalg.norm(crosses, axis=1).sum() / 2.0),
        centre_m=np.asarray(integrals.center_mass) + middle_m,
        inertia_m5=np.asarray(integrals.inertia),
    )


def make_body(vertices_m: Floats, faces: Faces, colours: Colours | None = None) -> Body:
    """Move a closed mesh to its centre of volume and attach its mass properties.

    Raises
    ------
    MeshError
        When the signed volume is not positive: inside out, flat or empty.
    """
    vertices_m = np.ascontiguousarray(vertices_m, dtype=np.float64)
    faces = np.ascontiguousarray(faces, dtype=np.int32)
    if len(faces) < 4 or not np.isfinite(vertices_m).all():
        raise MeshError("mesh: fewer than four faces, or coordinates that are no numbers. Export the scan again.")
    properties = mass_properties(vertices_m, faces)
    if not properties.volume_m3 > 0.0:
        raise MeshError("mesh: encloses no volume. Close it, or turn its faces outward, and export it again.")
    return Body(
        vertices_m=vertices_m - properties.centre_m,
        faces=faces,
        colours=colours,
        volume_m3=properties.volume_m3,
        area_m2=properties.area_m2,
        inertia_m5=properties.inertia_m5,
    )
