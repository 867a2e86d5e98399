"""What a page draws of a stone: a light mesh as bytes, and a small picture for the shelf."""

from __future__ import annotations

import hashlib
import json
import struct
import threading
from collections.abc import Callable

import numpy as np

from sim.pieces.body import Body, Colours
from sim.pieces.cache import keep, recall
from sim.pieces.placing import PlacedPiece
from sim.pieces.reducing import Reduced, colours_from, reduce_for_display
from sim.shot.ambient import unit
from sim.shot.camera import View
from sim.shot.colours import piece_colours
from sim.shot.raycast import Shape, render
from sim.shot.scene_picture import png_bytes
from sim.units import MM_PER_M

THUMB_PX = (256, 192)
KEY_LENGTH = 24
KIND, THUMB_KIND = "yard-mesh-2", "yard-thumb-2"  # in the cache; another number once they look otherwise


class Meshes:
    """Display meshes and thumbnails by key; each is made when it is first asked for."""

    def __init__(self) -> None:
        self._pieces: dict[str, PlacedPiece] = {}
        self._keys: dict[tuple[int, str], tuple[Body, str]] = {}  # holds the body: its number stays its own
        self._blobs: dict[str, bytes] = {}
        self._thumbs: dict[str, bytes] = {}
        self._lock, self._thumb_lock = threading.Lock(), threading.Lock()

    def key(self, piece: PlacedPiece) -> str:
        """Key of a piece's looks: its shape and its colours."""
        material = piece.material.name if piece.material is not None else ""
        known = self._keys.get((id(piece.body), material))
        if known is None:
            coloured = "" if piece.body.colours is None else hashlib.sha256(piece.body.colours.tobytes()).hexdigest()
            text = f"{piece.body.content_hash()}|{material}|{coloured}"
            known = (piece.body, hashlib.sha256(text.encode()).hexdigest()[:KEY_LENGTH])
            self._keys[id(piece.body), material] = known
            self._pieces[known[1]] = piece
        return known[1]

    def blob(self, key: str) -> bytes:
        """The display mesh as the protocol has it; KeyError when nothing has this key."""
        piece = self._pieces[key]
        with self._lock:
            if key not in self._blobs:
                self._blobs[key] = _kept(KIND, key, lambda: mesh_bytes(piece))
            return self._blobs[key]

    def ahead(self) -> None:
        """Make the display meshes of all pieces known so far."""
        for key in list(self._pieces):
            self.blob(key)

    def made(self, key: str) -> bytes | None:
        """A display mesh that is there already."""
        return self._blobs.get(key)

    def thumb(self, key: str) -> bytes:
        """A PNG of the stone by itself; KeyError when nothing has this key."""
        piece = self._pieces[key]
        with self._thumb_lock:
            if key not in self._thumbs:
                self._thumbs[key] = _kept(THUMB_KIND, key, lambda: thumb_png(piece))
            return self._thumbs[key]


def _kept(kind: str, key: str, make: Callable[[], bytes]) -> bytes:
    """What was made in an earlier run, or is made now and kept."""
    found = recall(kind, key)
    if found is not None and "data" in found:
        return found["data"].tobytes()
    data = make()
    keep(kind, key, {"data": np.frombuffer(data, np.uint8)})
    return data


def mesh_bytes(piece: PlacedPiece) -> bytes:
    """Header, positions (mm), normals, colours and corners of a light mesh; see `sim.yard.protocol`."""
    light, colours = light_mesh(piece)
    corners = light.vertices_m[light.faces]
    crosses = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(light.vertices_m)
    for corner in range(3):
        np.add.at(normals, light.faces[:, corner], crosses)  # area-weighted
    rgba = np.full((len(colours), 4), 255, np.uint8)
    rgba[:, :3] = colours
    header = json.dumps({"vertices": len(light.vertices_m), "triangles": len(light.faces)}).encode()
    header += b" " * (-len(header) % 4)
    arrays = (
        (light.vertices_m * MM_PER_M).astype("<f4"),
        unit(normals).astype("<f4"),
        rgba,
        light.faces.astype("<u4"),
    )
    return struct.pack("<I", len(header)) + header + b"".join(array.tobytes() for array in arrays)


def thumb_png(piece: PlacedPiece) -> bytes:
    """The stone by itself on paper, as it lies in its own frame."""
    light, colours = light_mesh(piece)
    points = light.vertices_m
    low, high = points.min(axis=0), points.max(axis=0)
    middle, radius = (low + high) / 2.0, float(np.linalg.norm(high - low)) / 2.0
    way = np.array([-0.45, -1.0, 0.55])
    focal_m, sensor_m = 0.050, (0.032, 0.024)
    distance = radius / np.sin(np.arctan(sensor_m[1] / 2.0 / focal_m)) * 1.02
    view = View(middle + way / np.linalg.norm(way) * distance, middle, focal_m, sensor_m)
    return png_bytes(render([Shape(points, light.faces, colours)], view, THUMB_PX).rgb)


def light_mesh(piece: PlacedPiece) -> tuple[Reduced, Colours]:
    """The display mesh of a piece, with its colours."""
    body = piece.body
    light = reduce_for_display(body.vertices_m, body.faces, None)
    colours = colours_from(body.vertices_m, piece_colours(piece), light.vertices_m)
    assert colours is not None, "there are colours to take from"
    return light, colours
