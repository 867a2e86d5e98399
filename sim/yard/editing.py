"""Changes to the scene file that take more than one call of `sim.scene`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.errors import BedjointError
from sim.pieces.importing import piece_id
from sim.scene import Camera, Document, PieceEntry, Scene, add_piece, remove_piece, set_camera
from sim.scene.document import appending, discarding
from sim.shot.lens import lens_of
from sim.units import MM_PER_M
from sim.yard.bench import Laid
from sim.yard.history import Desk, ShelfEntry
from sim.yard.protocol import SetCamera
from sim.yard.showing import entry_of
from sim.yard.words import free_name

if TYPE_CHECKING:
    from sim.yard.session import Session

PLACE = {"id", "at_mm", "turn_deg", "quaternion"}
BESIDE_MM = 6.0  # between a stone and its copy
ABOVE_MM = 15.0  # a stone from the shelf comes in so far above the highest one


def names_of(scene: Scene, desk: Desk | None = None) -> list[str]:
    """All names that are taken: pieces, modules, and with a desk the stones on the shelf."""
    shelf = [] if desk is None else [one.item for one in desk.shelf]
    return [*(entry.id for entry in scene.piece), *(module.id for module in scene.module), *shelf]


def append(document: Document, entry: PieceEntry) -> None:
    """Append a piece."""
    add_piece(document, entry)


def duplicate(document: Document, laid: Laid, chosen: Sequence[int]) -> list[str]:
    """Append copies of pieces to the right of each, or to the left where the tank ends, and say their names."""
    taken, made = names_of(laid.scene), []
    for k in chosen:
        entry, (low, high) = laid.scene.piece[k], laid.boxes[k]
        name = free_name(entry.id if entry.id[-1:].isdigit() else f"{entry.id}_2", taken)
        across_mm = float(high[0] - low[0]) * MM_PER_M + BESIDE_MM
        fits = high[0] * MM_PER_M + across_mm <= laid.scene.tank.inner_mm[0]
        x, y, z = entry.at_mm
        shift = across_mm if fits else -across_mm
        copied = entry.model_dump(exclude_unset=True, exclude_none=True)
        add_piece(document, PieceEntry.model_validate({**copied, "id": name, "at_mm": (round(x + shift, 3), y, z)}))
        taken.append(name)
        made.append(name)
    return made


def delete(document: Document, pieces: Sequence[str]) -> None:
    """Take pieces out, and whatever cannot be without them."""
    for piece in pieces:
        remove_piece(document, piece)


def shelved(laid: Laid, desk: Desk, pieces: Sequence[str]) -> Desk:
    """The desk with pieces of the tank on the shelf."""
    shelf = list(desk.shelf)
    for piece in pieces:
        keys = laid.scene.piece_named(piece).model_dump(
            mode="json", exclude_unset=True, exclude_none=True, exclude=PLACE
        )
        keys.pop("fixed", None)
        shelf.append(ShelfEntry(free_name(piece, [one.item for one in shelf]), keys))
    return replace(desk, shelf=tuple(shelf))


def taken(session: Session, item: str, at_mm: Sequence[float] | None) -> tuple[PieceEntry, Desk]:
    """A stone of the shelf as a piece of the tank, and the shelf without it."""
    found = next((one for one in session.desk.shelf if one.item == item), None)
    if found is None:
        raise BedjointError(f'"{item[:64]}" is not on the shelf. What is in the tank can be duplicated.')
    entry = entry_of(free_name(item, names_of(session.laid.scene)), dict(found.keys))
    place = tuple(at_mm) if at_mm is not None else _above_all(session.laid)
    entry = PieceEntry.model_validate({**entry.model_dump(exclude_unset=True, exclude_none=True), "at_mm": place})
    rest = tuple(one for one in session.desk.shelf if one is not found)
    return entry, replace(session.desk, shelf=rest)


def onto_shelf(session: Session, name: str, keys: dict[str, Any]) -> tuple[str, Desk]:
    """The desk with a new stone, under a name made from the wanted one.

    Raises
    ------
    BedjointError
        When the stone cannot be made.
    """
    item = free_name(piece_id(name.replace(".", "_") or "stone"), names_of(session.laid.scene, session.desk))
    entry = checked_entry(item, keys)
    session.bench.made(session.laid.scene, entry)
    return item, replace(session.desk, shelf=(*session.desk.shelf, ShelfEntry(item, keys)))


def checked_entry(item: str, keys: dict[str, Any]) -> PieceEntry:
    """A stone of the shelf as an entry, or an error in plain words."""
    try:
        return entry_of(item, keys)
    except ValueError as error:
        raise BedjointError(complaint(error)) from None


def complaint(error: ValueError) -> str:
    """The first fault of a section of the scene, in words."""
    details: list[Any] = error.errors() if hasattr(error, "errors") else []
    if not details:
        return str(error)
    context = details[0].get("ctx", {})
    where = ".".join(str(part) for part in details[0]["loc"])
    words = f"{context['problem']}. {context['remedy']}" if "problem" in context else details[0]["msg"]
    return f"{where}: {words}" if where else str(words)


def stand_in_keys(
    size_mm: Sequence[float],
    mass_kg: float,
    rock: str | None = None,
    wood: str | None = None,
    habit: str = "block",
    seed: int = 1,
) -> dict[str, Any]:
    """Keys of a piece made from caliper sizes and a weight."""
    made = {"size_mm": [float(size) for size in size_mm], "mass_kg": float(mass_kg), "habit": habit, "seed": seed}
    keys: dict[str, Any] = {"stand_in": made}
    if rock is not None:
        keys["rock"] = rock
    if wood is not None:
        keys["wood"] = wood
    return keys


def module_name(scene: Scene, wanted: str) -> str:
    """A name for a module that nothing has."""
    return free_name(piece_id(wanted.replace(".", "_")) if wanted.strip() else "module_1", names_of(scene))


def add_module(document: Document, name: str, pieces: Sequence[str]) -> None:
    """Append a module."""
    document.splice([appending(document, "module", {"id": name, "pieces": list(pieces)})])


def remove_module(document: Document, name: str) -> None:
    """Take a module out, and the rules that name it."""
    numbers = [k for k, table in enumerate(document.entries("module")) if table.get("id") == name]
    some(len(numbers), f'There is no module "{name[:64]}".')
    document.splice(discarding(document, "module", numbers[0]))
    for k, table in reversed(list(enumerate(document.entries("rule")))):
        if name in (*table.get("before", ()), *table.get("after", ())):
            document.splice(discarding(document, "rule", k))


def some(count: int, otherwise: str) -> None:
    """Refuse when there was nothing to change."""
    if not count:
        raise BedjointError(otherwise)


def camera(document: Document, scene: Scene, asked: SetCamera) -> None:
    """Write what was asked for; the rest of the camera stays."""
    old = scene.camera.model_dump(exclude_unset=True, exclude_none=True)
    keys = ("position_mm", "look_at_mm", "focal_mm", "sensor_mm", "aperture", "crop")
    given = {key: value for key in keys if (value := getattr(asked, key)) is not None}
    wanted = {**old, **given}
    if asked.fill:
        wanted = {key: value for key, value in wanted.items() if key not in ("position_mm", "look_at_mm")}
    elif "look_at_mm" in given and "position_mm" not in wanted:
        place = lens_of(scene).position_m * MM_PER_M
        wanted["position_mm"] = tuple(round(float(value), 1) for value in place)
    try:
        made = Camera.model_validate(wanted)
    except ValueError as error:
        raise BedjointError(f"camera: {complaint(error)}") from None
    set_camera(document, made)


def _above_all(laid: Laid) -> tuple[float, float, float]:
    length, depth, _ = laid.scene.tank.inner_mm
    highest = max((float(box[1][2]) for box in laid.boxes), default=0.0) * MM_PER_M
    return (round(length / 2.0, 1), round(depth / 2.0, 1), float(np.ceil(highest + ABOVE_MM)))
