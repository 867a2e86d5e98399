"""What the builder pays, and how hard the judges look."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from sim.scene.names import Glue
from sim.scene.section import Disagreement, Flag, Name, Raw, Section, Text

Price = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1e6)]
Amount = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=1e6)]
Spread = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=0.9)]
SmallLength = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=50)]
Verdict = Literal["stands", "stands (quick)", "falls", "doubtful", "undetermined"]


class Pack(Section):
    """One tube or pack of a glue, as it is sold."""

    price: Price = Field(description="Price of one pack.")
    ml: Amount | None = Field(default=None, description="Content, ml.")
    g: Amount | None = Field(default=None, description="Content, g, instead of ml.")

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        if len(raw.has("ml", "g")) != 1:
            yield Disagreement((), "its content is not clear", "Give exactly one of ml and g.")


class Prices(Section):
    """Prices, for the costs in the report."""

    currency: Annotated[str, Field(strict=True, max_length=8)] = Field(
        default="", description="Currency, printed beside amounts."
    )
    per_kg: dict[str, Price] = Field(
        default_factory=dict, description="Price per kg of a rock, wood or ground, by its name in the tables."
    )
    packs: dict[Glue, Pack] = Field(default_factory=dict, description="Packs of glue, by the name of the glue.")


class Budget(Section):
    """What may be spent."""

    total: Price = Field(description="Whole budget, in the currency of [prices].")


class Check(Section):
    """Settings of the judges. The defaults are meant for nearly everyone."""

    seed: Annotated[int, Field(strict=True, ge=0, le=2**32 - 1)] = Field(
        default=1, description="Seed of everything random. Default 1."
    )
    tilt_wanted_deg: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=60)] = Field(
        default=15.0, description="Tilt at which no piece may move against its neighbours, degrees. Default 15."
    )
    azimuths: Annotated[int, Field(strict=True, ge=4, le=360)] = Field(
        default=16, description="Directions in which the tilt is tried. Default 16."
    )
    contact_mm: SmallLength = Field(
        default=0.025, description="Gap up to which surfaces count as touching, mm. Default 0.025."
    )
    overlap_mm: SmallLength = Field(
        default=0.03, description="Depth up to which an overlap of two pieces is let pass, mm. Default 0.03."
    )
    copies: Annotated[int, Field(strict=True, ge=1, le=100)] = Field(
        default=4, description="Slightly shifted copies for the robust margin. Default 4."
    )
    shift_mm: SmallLength = Field(default=0.2, description="Shift of each piece in a copy, mm. Default 0.2.")
    turn_deg: Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=10)] = Field(
        default=0.06, description="Turn of each piece in a copy, degrees. Default 0.06."
    )
    trials: Annotated[int, Field(strict=True, ge=1, le=1000)] = Field(
        default=5, description="Repeats of the dynamic trial. Default 5."
    )
    drift_mm: SmallLength = Field(default=3.0, description="Movement in a trial that counts as falling, mm. Default 3.")
    friction_spread: Spread = Field(
        default=0.1, description="Share by which friction varies between trials. Default 0.1."
    )
    density_spread: Spread = Field(
        default=0.03, description="Share by which density varies between trials. Default 0.03."
    )
    hand_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=500)] = Field(
        default=40.0, description="Room that a hand needs beside a piece on its way in, mm. Default 40."
    )


class Expect(Section):
    """What an example scene teaches; a test holds the judges to it."""

    verdict: Verdict = Field(description="Verdict of the scene.")
    dry: Verdict | None = Field(default=None, description="Verdict of the dry-laid stack.")
    flooded: Verdict | None = Field(default=None, description="Verdict when flooded, as built.")
    base_within_limits: Flag | None = Field(default=None, description="Whether the base glass carries it.")
    moving: tuple[Name, ...] = Field(default=(), max_length=500, description="Pieces that move when it falls.")
    steps: Annotated[int, Field(strict=True, ge=0)] | None = Field(default=None, description="Steps of the best order.")
    why: Text = Field(default="", description="The lesson, in a sentence.")
