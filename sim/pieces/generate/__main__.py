"""`python -m sim.pieces.generate FOLDER`: make every mesh in a folder again from the recipe beside it."""

import sys
import tomllib
from pathlib import Path

from sim.files import write_atomically
from sim.pieces.generate import generate
from sim.pieces.saving import ply_bytes

for recipe in sorted(Path(sys.argv[1]).glob("*.recipe.toml")):
    keys = tomllib.loads(recipe.read_text(encoding="utf-8"))
    body = generate(keys.pop("shape"), keys.pop("seed"), keys.pop("size_mm"), **keys)
    write_atomically(
        recipe.with_name(recipe.name.replace(".recipe.toml", ".ply")),
        ply_bytes(body.vertices_m, body.faces, body.colours),
    )
