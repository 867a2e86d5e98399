"""The JSON Schema of scene files, for editors and for other programs."""

from __future__ import annotations

from typing import Any

from sim.scene.model import Scene

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a scene file.

    What needs the whole file (names that refer to pieces, heights, circles of rules) is beyond
    a schema: `read_scene` checks that.
    """
    schema = Scene.model_json_schema(mode="validation")
    return {"$schema": DIALECT, **_without_null(schema)}


def _without_null(node: Any) -> Any:
    """TOML has no null: an optional key is left out, so `anyOf [X, null]` is plain X."""
    if isinstance(node, list):
        return [_without_null(item) for item in node]
    if not isinstance(node, dict):
        return node
    kept = {key: _without_null(value) for key, value in node.items() if not (key == "default" and value is None)}
    choices = kept.get("anyOf")
    if isinstance(choices, list) and {"type": "null"} in choices:
        rest = [choice for choice in choices if choice != {"type": "null"}]
        del kept["anyOf"]
        return {**rest[0], **kept} if len(rest) == 1 else {**kept, "anyOf": rest}
    return kept
