"""The picture: camera, background, and the photos it is held against."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from sim.scene.section import Colour, Disagreement, FilePath, Place, Raw, Section

SensorSide = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=1, le=200)]
Share = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1)]


class Camera(Section):
    """Where the camera stands and what lens it has."""

    position_mm: Place | None = Field(
        default=None, description="The lens, tank frame, mm. Default: square-on, as far as the front pane needs."
    )
    look_at_mm: Place | None = Field(
        default=None, description="A point in the middle of the picture, mm. Default: straight to the back."
    )
    focal_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=2000)] = Field(
        default=35.0, description="Focal length engraved on the lens, mm. Default 35."
    )
    sensor_mm: tuple[SensorSide, SensorSide] = Field(
        default=(36.0, 24.0), description="Width and height of the sensor, mm. Default 36 x 24."
    )
    aperture: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0.5, le=128)] = Field(
        default=8.0, description="f-number. Default 8."
    )
    focus_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=20_000)] | None = Field(
        default=None, description="Distance from the lens that is sharp, mm. Default: the look-at point."
    )
    roll_deg: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-180, le=180)] = Field(
        default=0.0, description="Turn of the camera about its axis, degrees, clockwise seen from behind. Default 0."
    )
    distortion: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-1, le=1)] = Field(
        default=0.0, description="Radial distortion k1 of the lens, of the tangent of the angle. Default 0."
    )
    crop: Literal["sensor", "3:2", "4:3", "16:9", "1:1"] = Field(
        default="sensor", description="Frame cut from the picture. Default: the whole sensor."
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        position_mm, look_at_mm = raw.numbers("position_mm"), raw.numbers("look_at_mm")
        if look_at_mm and not raw.has("position_mm"):
            yield Disagreement(("position_mm",), "missing beside look_at_mm", "Give both, or neither for square-on.")
        if position_mm and position_mm == look_at_mm:
            yield Disagreement(
                ("look_at_mm",), "the camera looks at the point where it stands", "Give a point inside the tank."
            )


class Background(Section):
    """The sheet behind the tank: a colour gradient or an image."""

    top: Colour = Field(default="#dfeaf0", description="Colour at the top, #rrggbb. Default pale blue.")
    bottom: Colour = Field(default="#f7f9f8", description="Colour at the bottom, #rrggbb. Default near white.")
    image: FilePath | None = Field(
        default=None, description="Image instead of colours, a path from the scene file's folder."
    )
    light: Share = Field(default=0.5, description="How strongly it is lit from behind, 0 to 1. Default 0.5.")

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        colours = raw.has("top", "bottom")
        if raw.has("image") and colours:
            yield Disagreement(("image",), f"given beside {colours[0]}", "Keep the image or the colours.")


class Photo(Section):
    """Pictures to compare the shot with."""

    matched: FilePath | None = Field(
        default=None, description="Photo of the empty tank that the camera was matched to, a path."
    )
    concept: FilePath | None = Field(default=None, description="Concept picture to lay over the shot, a path.")
    opacity: Share = Field(default=0.5, description="Opacity of the picture laid over, 0 to 1. Default 0.5.")
