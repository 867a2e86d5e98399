"""The JSON Schema accepts what the reader accepts, and explains every key."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import jsonschema
import pytest

from sim.scene import json_schema, starter

SCHEMA = json_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def everything() -> dict[str, Any]:
    text = re.sub(r"(?m)^# (?=\[|[a-z_0-9]+ = )", "", starter("all", (900, 450, 450), "annealed"))
    return tomllib.loads(re.sub(r"(?m)^opening_mm.*\n", "", text))


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_the_starter_and_all_its_examples_fit() -> None:
    VALIDATOR.validate(tomllib.loads(starter("a", (600, 300, 300))))
    VALIDATOR.validate(everything())


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 2),
        (("tank", "inner_mm"), [900, 450]),
        (("tank", "inner_mm"), [900, 450, 20]),
        (("tank", "support"), "foam"),
        (("tank", "glas"), "annealed"),
        (("piece", 0, "rock"), "cheese"),
        (("piece", 0, "id"), "two words"),
        (("piece", 0, "at_mm"), "here"),
        (("joint", 0, "kind"), "nail"),
        (("background", "top"), "blue"),
    ],
)
def test_what_it_refuses(path: tuple[Any, ...], value: object) -> None:
    scene: Any = everything()
    here = scene
    for part in path[:-1]:
        here = here[part]
    here[path[-1]] = value
    assert not VALIDATOR.is_valid(scene)


def test_every_key_is_described_and_lengths_say_their_unit() -> None:
    for name, model in {"Scene": SCHEMA, **SCHEMA["$defs"]}.items():
        for key, field in model["properties"].items():
            referred = SCHEMA["$defs"].get(field.get("$ref", "").removeprefix("#/$defs/"), {})
            assert field.get("description") or referred.get("description"), f"{name}.{key}"
            if key.endswith("_mm"):
                assert "mm" in field["description"], f"{name}.{key}"
            if key.endswith("_deg"):
                assert "degrees" in field["description"], f"{name}.{key}"
            if key.endswith("_kg"):
                assert "kg" in field["description"], f"{name}.{key}"


def test_nothing_in_it_may_be_null() -> None:
    assert "null" not in re.findall(r"'type': '(\w+)'", repr(SCHEMA))
