"""A small scene for the yard, with comments that must survive, and a session on it."""

from __future__ import annotations

from pathlib import Path

HEAD = """\
# A yard to try things in.
format = 1
title = "Small <b>yard</b>"   # a title is only ever text

[tank]
inner_mm = [600, 400, 400]
base_mm = 8
side_mm = 8
under_stones = { kind = "grid", thickness_mm = 5 }

[water]
level_mm = 300

[camera]
focal_mm = 35
"""


def slab(name: str, at: str, height_mm: int = 40) -> str:
    """A stand-in slab of slate, 120 x 90 mm."""
    made = f"stand_in = {{ size_mm = [120, 90, {height_mm}], mass_kg = {0.0225 * height_mm:.4f}, habit = 'slab' }}"
    return f"\n# {name}, from the shore\n[[piece]]\nid = '{name}'\n{made}\nrock = 'slate'\nat_mm = {at}\n"


def small_scene(folder: Path) -> Path:
    """Two slabs on the base, one in the air above the first."""
    file = folder / "small.toml"
    text = HEAD + slab("low", "[200, 200, 5]") + slab("beside", "[420, 200, 5]") + slab("high", "[210, 205, 60]")
    file.write_text(text)
    return file
