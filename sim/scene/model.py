"""The whole scene file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, PrivateAttr

from sim.scene.agreement import scene_disagreements
from sim.scene.joining import FrictionPair, JointEntry, ModuleEntry, RuleEntry
from sim.scene.picture import Background, Camera, Photo
from sim.scene.piece import PieceEntry
from sim.scene.section import Disagreement, Raw, Section, Text, refusal
from sim.scene.settings import Budget, Check, Expect, Prices
from sim.scene.tank import Ground, Tank, Water

FULL_SHARE = 0.95  # of the inner height, when the file gives no level: a little air below the rim
MOST_PIECES = 5000


def _whole(value: object) -> object:
    """`true` and 1.0 equal 1, but are no version of a format."""
    if type(value) is not int:
        raise refusal("no version of the file format", "Give format = 1.")
    return value


class Scene(Section):
    """A tank, its pieces of stone and wood, their glue and the camera.

    Frame: origin at the inner front-left-bottom corner, x to the right along the front pane,
    y to the back, z up from the base glass. Lengths in mm, masses in kg, angles in degrees.
    """

    format: Annotated[Literal[1], BeforeValidator(_whole)] = Field(description="Version of the file format: 1.")
    title: Text = Field(default="", description="Title of the scene.")
    tank: Tank = Field(description="The glass tank.")
    water: Water = Field(default=Water(), description="The filling.")
    ground: Ground = Field(default=Ground(), description="Granular layers on the base.")
    camera: Camera = Field(default=Camera(), description="The camera.")
    background: Background = Field(default=Background(), description="The sheet behind the tank.")
    photo: Photo = Field(default=Photo(), description="Pictures to compare the shot with.")
    piece: tuple[PieceEntry, ...] = Field(
        default=(), max_length=MOST_PIECES, description="The pieces, in the order in which they were set down."
    )
    joint: tuple[JointEntry, ...] = Field(default=(), max_length=MOST_PIECES, description="Joints between pieces.")
    friction: tuple[FrictionPair, ...] = Field(
        default=(), max_length=MOST_PIECES, description="Friction of pairs of pieces or materials."
    )
    module: tuple[ModuleEntry, ...] = Field(
        default=(), max_length=MOST_PIECES, description="Pieces glued together outside the tank."
    )
    rule: tuple[RuleEntry, ...] = Field(
        default=(), max_length=MOST_PIECES, description="The builder's own rules about the order."
    )
    prices: Prices = Field(default=Prices(), description="Prices, for the costs in the report.")
    budget: Budget | None = Field(default=None, description="What may be spent.")
    check: Check = Field(default=Check(), description="Settings of the judges.")
    expect: Expect | None = Field(default=None, description="Expected verdict, in example scenes.")

    _file: Path = PrivateAttr(default=Path("scene.toml"))

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        yield from scene_disagreements(raw)

    @property
    def file(self) -> Path:
        """The file that the scene was read from."""
        return self._file

    @property
    def folder(self) -> Path:
        """The folder from which paths in the scene are found."""
        return self._file.parent

    @property
    def water_level_mm(self) -> float:
        """Surface above the base glass when full, mm; where the file gives none, 95 % of the inner height."""
        level_mm = self.water.level_mm
        return FULL_SHARE * self.tank.inner_mm[2] if level_mm is None else level_mm

    def piece_named(self, piece_id: str) -> PieceEntry:
        """The piece with this id; KeyError when there is none."""
        for entry in self.piece:
            if entry.id == piece_id:
                return entry
        raise KeyError(piece_id)
