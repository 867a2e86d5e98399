"""Stone list, places, numbers to tape on, and the two views."""

from __future__ import annotations

from sim.pieces.placing import PlacedPiece
from sim.report.sheet.blocks import Block, Diagram, Heading, Labels, Photo, Table, Together, Words
from sim.report.sheet.gathering import Bench
from sim.report.sheet.views import front_view, plan_view
from sim.scene import PieceEntry

WORDS_MM = 28.0  # heading and caption of a view
SMALLEST = 0.8  # of the size that the width allows
LEVEL_SHARE = 1.08  # longer over shorter side from which a piece has a direction


def stone_list(bench: Bench, thumbnails: dict[str, Photo]) -> list[Block]:
    """Every piece with its picture, size and weight."""
    lifts = {piece.id: piece.lift for piece in bench.report.pieces}
    rows = []
    for piece in bench.by_number():
        advice = lifts[piece.id].advice if piece.id in lifts else ""
        rows.append(
            (
                str(bench.numbers[piece.id]),
                thumbnails[piece.id],
                piece.id,
                "-" if piece.material is None else piece.material.name,
                bench.measures.bare(*bench.places[piece.id].size_mm),
                f"{piece.mass_kg:.2f}",
                advice or "one person",
            )
        )
    return [
        Heading("Stones"),
        Words("Numbers follow the order of setting. Pictures and sizes are of each piece as it will lie."),
        Table(
            ("no.", "", "name", "kind", f"size {bench.measures.unit}", "kg", "lifting"),
            tuple(rows),
            (0.06, 0.16, 0.2, 0.13, 0.2, 0.08, 0.17),
            ("right", "middle", "left", "left", "left", "right", "left"),
        ),
    ]  # fmt: skip


def labels(bench: Bench) -> list[Block]:
    """Numbers to cut out."""
    if not bench.pieces:
        return []
    return [
        Heading("Numbers to tape on", fresh=True),
        Words(
            "Cut them out and tape each onto its piece: on the side that will face the front pane, as pictured in the "
            "stone list, upright when the piece lies as it will lie. Take them off before the tank is filled."
        ),
        Labels(tuple((str(bench.numbers[piece.id]), piece.id) for piece in bench.by_number())),
    ]


def views(bench: Bench) -> list[Block]:
    """Plan and front views, and where everything lies."""
    width, height = bench.paper.inside_mm
    height = _view_height_mm(bench, width, height)
    plan, plan_words = plan_view(bench, width, height)
    front, front_words = front_view(bench, width, height)
    return [
        Together((Heading("Plan and front"), Diagram(plan, plan_words))),
        Together((Heading("Front", 2), Diagram(front, front_words))),
        *places(bench),
    ]


def _view_height_mm(bench: Bench, width_mm: float, height_mm: float) -> float:
    """Half a page for each view, or a page where they would become too small."""
    length, depth, height = bench.scene.tank.inner_mm
    half = height_mm / 2.0 - WORDS_MM
    at_full_width = width_mm * max(depth, height) / length
    room = half if not bench.measures.inches else 0.0  # their figures are long
    return half if room > SMALLEST * at_full_width else height_mm - WORDS_MM


def places(bench: Bench) -> list[Block]:
    """Where every piece lies, in numbers."""
    rows = []
    entries = {entry.id: entry for entry in bench.scene.piece}
    for piece in bench.by_number():
        place = bench.places[piece.id]
        rows.append(
            (
                str(bench.numbers[piece.id]),
                piece.id,
                bench.measures.bare(place.low_mm[0]),
                bench.measures.bare(place.low_mm[1]),
                bench.measures.bare(place.low_mm[2]),
                bench.measures.bare(place.high_mm[2]),
                direction(bench, piece.id),
                turn(piece, entries[piece.id]),
            )
        )
    unit = bench.measures.unit
    return [
        Heading("Places", 2),
        Words(
            f"All in {unit}: left side from the left pane, front side from the front pane, lowest point and top from "
            "the base glass. Long side: its angle from the front pane. Turn: of the mesh about x, then y, z.",
            "note",
        ),
        Table(
            ("no.", "name", "left", "front", "lowest", "top", "long side", "turn °"),
            tuple(rows),
            (0.06, 0.19, 0.09, 0.09, 0.1, 0.09, 0.24, 0.14),
            ("right", "left", "right", "right", "right", "right", "left", "right"),
        ),
    ]


def direction(bench: Bench, name: str) -> str:
    """Which way the long side of a piece points, as a builder measures it."""
    place = bench.places[name]
    if place.long_mm < LEVEL_SHARE * place.short_mm:
        return "none"
    angle = place.angle_deg
    if abs(angle) < 0.5:
        return "along the front"
    if abs(angle) > 89.5:
        return "front to back"
    return f"{abs(angle):.0f}°, {'right' if angle > 0 else 'left'} end back"


def turn(piece: PlacedPiece, entry: PieceEntry) -> str:
    """The turn of the scene file, or that of the pose where the file gives a quaternion."""
    from sim.pieces.turning import turns_from_rotation

    turns = entry.turn_deg if entry.quaternion is None else turns_from_rotation(piece.rotation)
    return ", ".join(f"{value + 0.0:.0f}".replace("-0", "0") if abs(value) < 0.5 else f"{value:.0f}" for value in turns)
