"""Stacks of real scanned stones, with the props against which they are set down.

Each stack is six to eight scans at 62 to 145 mm, their poses as found once and rounded. The stones are no part of the
repository.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from sim.cli import command
from sim.pieces.importing import ImportOptions, import_piece
from sim.pieces.saving import save_piece
from sim.scene import read_document, remove_piece, save

Triple = tuple[float, float, float]
TANK = """\
format = 1
title = "{title}"
[tank]
inner_mm = [700, 400, 400]
base_mm = 8
side_mm = 8
[water]
level_mm = 0
[check]
trials = 2
"""
PIECE = """
[[piece]]
id = "{id}"
mesh = "{mesh}"
rock = "granite"
at_mm = {at}
turn_deg = {turn}
"""
PROP = """
[[piece]]
id = "{id}"
generate = {{ shape = "block", seed = 9, size_mm = {size}, faces = 1500 }}
rock = "granite"
at_mm = {at}
fixed = true
"""
GLUED = """
[[joint]]
between = {between}
glue = "epoxy putty"
"""


@dataclass(frozen=True, slots=True)
class Scan:
    """A scanned stone, the longest side it is scaled to, and where it is set down."""

    file: str
    longest_mm: float
    turn_deg: Triple
    at_mm: Triple


@dataclass(frozen=True, slots=True)
class Stack:
    """Stones in the order of setting, numbered from 1; joints by those numbers."""

    name: str
    verdict: str  # as built
    stones: tuple[Scan, ...]
    dry: str | None = None  # without its glue
    props: tuple[tuple[Triple, Triple], ...] = ()  # size and place, mm
    joints: tuple[tuple[int, int], ...] = ()


STACKS = (
    Stack(
        "three_steps",
        "stands",
        (
            Scan("masonry-study/wall_stone_012.obj", 145.0, (-173.6, 83.1, 179.0), (280.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_032.obj", 145.0, (7.3, -89.0, 125.0), (430.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_030.obj", 145.0, (59.8, 75.8, -117.0), (357.0, 203.0, 25.1)),
            Scan("masonry-study/wall_stone_028.obj", 75.0, (-165.8, -58.4, -113.8), (239.2, 198.9, 43.9)),
            Scan("masonry-study/stone_158.obj", 75.0, (-158.6, -5.8, 119.0), (470.2, 200.0, 41.0)),
            Scan("masonry-study/wall_stone_060.obj", 75.0, (-164.9, 60.4, -103.0), (353.8, 204.3, 63.2)),
        ),
    ),
    Stack(
        "three_steps_again",
        "stands",
        (
            Scan("masonry-study/wall_stone_066.obj", 145.0, (66.6, -82.1, 131.0), (280.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_012.obj", 145.0, (-173.6, 83.1, -111.0), (430.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_076.obj", 145.0, (-46.8, -73.0, 58.4), (356.8, 205.2, 39.3)),
            Scan("masonry-study/wall_stone_060.obj", 75.0, (177.2, 79.3, 88.9), (240.7, 201.1, 48.4)),
            Scan("moon-rocks/rock_4.ply", 75.0, (6.3, 9.7, 71.7), (471.7, 200.6, 48.7)),
            Scan("masonry-study/wall_stone_014.obj", 75.0, (-148.0, -74.0, 77.2), (356.1, 201.2, 95.7)),
        ),
    ),
    Stack(
        "three_steps_low",
        "stands",
        (
            Scan("masonry-study/wall_stone_056.obj", 145.0, (-145.4, -87.5, -154.0), (280.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_030.obj", 145.0, (-165.8, 84.5, 23.0), (430.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_066.obj", 145.0, (2.0, -74.9, -60.2), (361.5, 197.8, 22.4)),
            Scan("masonry-study/wall_stone_024.obj", 75.0, (-151.6, 75.8, 22.7), (237.6, 200.1, 27.9)),
            Scan("masonry-study/stone_158.obj", 75.0, (-143.4, -9.9, 49.2), (471.1, 197.5, 28.9)),
            Scan("masonry-study/wall_stone_074.obj", 75.0, (143.4, -75.3, -46.7), (357.6, 199.6, 78.2)),
        ),
    ),
    Stack(
        "two_plates_with_piles",
        "stands",
        (
            Scan("masonry-study/wall_stone_076.obj", 145.0, (58.9, -79.8, -60.0), (270.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_032.obj", 145.0, (7.3, -89.0, -4.0), (430.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_052.obj", 75.0, (-142.5, -72.0, -168.2), (240.0, 195.7, 36.9)),
            Scan("masonry-study/wall_stone_024.obj", 75.0, (-2.6, 66.3, 112.5), (301.5, 199.3, 25.3)),
            Scan("moon-samples/sample_21.ply", 75.0, (-157.9, -78.6, -164.0), (399.3, 200.6, 36.8)),
            Scan("moon-rocks/rock_4.ply", 75.0, (-13.8, -11.3, -144.2), (460.8, 199.7, 27.8)),
            Scan("masonry-study/wall_stone_070.obj", 75.0, (-146.5, -52.8, -129.0), (236.7, 200.2, 64.0)),
            Scan("masonry-study/wall_stone_014.obj", 75.0, (-149.1, -78.5, 146.2), (460.0, 200.7, 50.3)),
        ),
    ),
    Stack(
        "overhang_glued",
        "stands",
        (
            Scan("masonry-study/wall_stone_066.obj", 145.0, (66.6, -82.1, -144.2), (300.0, 199.9, 1.0)),
            Scan("masonry-study/stone_151.obj", 75.0, (-139.3, 11.2, -110.2), (268.9, 178.6, 43.8)),
            Scan("masonry-study/wall_stone_026.obj", 75.0, (-130.9, 88.8, 3.4), (329.6, 179.0, 48.9)),
            Scan("moon-rocks/rock_4.ply", 75.0, (1.7, -6.4, -161.6), (301.6, 224.3, 55.6)),
            Scan("masonry-study/wall_stone_068.obj", 145.0, (46.1, 71.4, -7.4), (317.2, 199.4, 70.4)),
            Scan("masonry-study/stone_158.obj", 75.0, (-171.9, -27.4, 48.4), (336.6, 174.0, 120.3)),
            Scan("masonry-study/wall_stone_052.obj", 75.0, (-68.6, -29.2, 79.1), (344.2, 237.1, 115.1)),
        ),
        dry="falls",
        props=(((30.0, 90.0, 92.0), (374.0, 200.0, 0.0)),),
        joints=(
            (2, 1),
            (3, 1),
            (4, 1),
            (4, 2),
            (4, 3),
            (5, 4),
            (6, 5),
            (7, 5),
        ),
    ),
    Stack(
        "short_overhang_glued",
        "stands",
        (
            Scan("masonry-study/wall_stone_030.obj", 145.0, (-165.8, 84.5, -130.0), (300.0, 200.0, 1.0)),
            Scan("moon-samples/sample_21.ply", 75.0, (113.4, -29.0, -136.6), (268.5, 177.6, 1.0)),
            Scan("masonry-study/wall_stone_024.obj", 75.0, (-58.1, 73.5, -136.3), (332.3, 179.6, 24.2)),
            Scan("masonry-study/wall_stone_074.obj", 75.0, (-33.1, -67.1, 166.1), (295.7, 226.2, 27.1)),
            Scan("masonry-study/wall_stone_068.obj", 145.0, (39.6, 64.5, -6.2), (328.3, 199.2, 59.1)),
            Scan("masonry-study/wall_stone_060.obj", 75.0, (-128.3, 56.3, -5.6), (345.3, 171.8, 119.5)),
        ),
        dry="falls",
        props=(((30.0, 90.0, 92.0), (386.0, 200.0, 0.0)),),
        joints=(
            (2, 1),
            (3, 1),
            (4, 1),
            (4, 3),
            (5, 4),
            (6, 5),
        ),
    ),
    Stack(
        "long_arm_glued",
        "stands",
        (
            Scan("masonry-study/wall_stone_076.obj", 145.0, (58.9, -79.8, -134.0), (299.9, 200.1, 1.0)),
            Scan("masonry-study/wall_stone_070.obj", 75.0, (-172.3, -37.5, -112.2), (267.9, 177.3, 24.4)),
            Scan("masonry-study/wall_stone_026.obj", 75.0, (-135.0, 69.0, 58.7), (328.2, 176.5, 35.2)),
            Scan("moon-samples/sample_21.ply", 75.0, (-7.7, -71.0, 152.6), (298.5, 229.8, 26.6)),
            Scan("masonry-study/stone_160.obj", 145.0, (41.0, 4.4, -152.9), (330.4, 199.7, 64.0)),
            Scan("moon-rocks/rock_4.ply", 75.0, (14.0, -2.7, -12.6), (353.7, 173.8, 110.1)),
        ),
        dry="falls",
        props=(((30.0, 90.0, 92.0), (386.0, 200.0, 0.0)),),
        joints=(
            (2, 1),
            (3, 1),
            (4, 1),
            (4, 3),
            (5, 2),
            (5, 4),
            (6, 5),
        ),
    ),
    Stack(
        "overhang_breaks",
        "falls",
        (
            Scan("masonry-study/wall_stone_030.obj", 145.0, (-165.8, 84.5, 15.7), (300.3, 199.9, 1.0)),
            Scan("masonry-study/wall_stone_044.obj", 75.0, (-92.9, -70.6, -171.0), (264.6, 178.9, 11.6)),
            Scan("masonry-study/stone_158.obj", 75.0, (-147.6, -0.9, -31.6), (329.7, 178.2, 26.7)),
            Scan("masonry-study/wall_stone_024.obj", 75.0, (-38.2, 42.5, -48.6), (298.2, 222.0, 23.7)),
            Scan("masonry-study/wall_stone_056.obj", 145.0, (-81.7, -72.3, 163.8), (331.4, 202.0, 68.1)),
            Scan("masonry-study/wall_stone_060.obj", 75.0, (-119.3, 62.6, -24.4), (347.0, 174.8, 115.7)),
        ),
        dry="falls",
        props=(((30.0, 90.0, 92.0), (386.0, 200.0, 0.0)),),
        joints=(
            (2, 1),
            (3, 1),
            (4, 1),
            (4, 2),
            (4, 3),
            (5, 4),
            (6, 5),
        ),
    ),
    Stack(
        "overhang_tips",
        "falls",
        (
            Scan("masonry-study/wall_stone_076.obj", 145.0, (58.9, -79.8, -81.0), (300.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_044.obj", 75.0, (-149.7, -80.0, -133.0), (269.2, 177.1, 31.8)),
            Scan("masonry-study/wall_stone_060.obj", 75.0, (177.0, 53.8, 105.0), (331.7, 174.4, 29.3)),
            Scan("masonry-study/stone_151.obj", 75.0, (-149.0, 0.3, -115.4), (300.5, 223.9, 52.2)),
            Scan("masonry-study/wall_stone_056.obj", 145.0, (-136.0, -73.8, 179.9), (328.9, 199.8, 70.1)),
            Scan("masonry-study/wall_stone_014.obj", 75.0, (-26.7, -81.5, -40.1), (355.7, 172.5, 119.8)),
        ),
        dry="falls",
        props=(((30.0, 90.0, 92.0), (386.0, 200.0, 0.0)),),
        joints=(
            (2, 1),
            (3, 1),
            (4, 1),
            (4, 2),
            (5, 4),
            (6, 5),
        ),
    ),
    Stack(
        "long_overhang_dry",
        "falls",
        (
            Scan("masonry-study/wall_stone_056.obj", 145.0, (-145.3, -87.5, -16.1), (300.0, 200.0, 1.0)),
            Scan("masonry-study/wall_stone_026.obj", 62.0, (40.8, 78.1, 73.5), (270.0, 178.2, 39.2)),
            Scan("moon-rocks/rock_4.ply", 62.0, (-2.9, 15.4, -23.5), (330.2, 178.6, 30.0)),
            Scan("masonry-study/stone_158.obj", 62.0, (-144.5, -5.4, 92.5), (301.9, 224.0, 36.9)),
            Scan("masonry-study/wall_stone_076.obj", 145.0, (134.3, -76.8, -121.1), (339.2, 200.7, 65.9)),
            Scan("masonry-study/wall_stone_044.obj", 62.0, (-102.9, -47.2, -36.7), (371.8, 170.2, 91.1)),
            Scan("masonry-study/wall_stone_014.obj", 62.0, (149.0, -71.3, -113.4), (362.0, 228.0, 117.8)),
        ),
        props=(((30.0, 90.0, 92.0), (394.0, 200.0, 0.0)),),
    ),
)


def import_stones(scans: Path, folder: Path, stacks: Sequence[Stack] = STACKS) -> dict[tuple[str, float], Path]:
    """Every scan in every size that the stacks use, imported once."""
    made = {}
    for file, longest_mm in sorted({(stone.file, stone.longest_mm) for stack in stacks for stone in stack.stones}):
        piece = import_piece(scans / file, ImportOptions(longest_mm=longest_mm, rock="granite"))
        made[file, longest_mm], _ = save_piece(piece, folder / f"{longest_mm:g}")
    return made


def pieces_of(stack: Stack, stones: dict[tuple[str, float], Path]) -> str:
    """The scene's text up to its joints: tank, props, stones."""
    text = TANK.format(title=stack.name)
    for k, (size, at) in enumerate(stack.props, 1):
        text += PROP.format(id=f"prop_{k}", size=list(size), at=list(at))
    for k, one in enumerate(stack.stones, 1):
        mesh = stones[one.file, one.longest_mm].as_posix()
        text += PIECE.format(id=f"stone_{k}", mesh=mesh, at=list(one.at_mm), turn=list(one.turn_deg))
    return text


def settle_and_unprop(text: str, props: int, folder: Path, output: Path) -> str:
    """Settle a scene's text by the command, take its props away, and return what the command printed."""
    before = folder / "before.toml"
    before.write_text(text)
    done = CliRunner().invoke(command, ["settle", str(before), "-o", str(output), "--json"])
    assert done.exit_code in (0, 1), done.output
    document = read_document(output)
    for k in range(props):
        remove_piece(document, f"prop_{k + 1}")
    save(document, output)
    return done.output
