"""The messages of the yard: read strictly, written as JSON."""

from __future__ import annotations

import dataclasses
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.yard import commands, protocol
from sim.yard.wire import WireError, plain, read_command, written

EXAMPLES = {
    "drag": {"poses": [{"piece": "a", "position_mm": [1, 2.5, 3], "quaternion": [1, 0, 0, 0]}]},
    "place": {"poses": [{"piece": "a", "at_mm": [1, 2, 3], "turn_deg": [0, 0, 90]}]},
    "move": {"pieces": ["a", "b"], "by_mm": [0, 0, 5]},
    "turn": {"pieces": ["a"], "axis": "z", "by_deg": 15, "together": True},
    "set_down": {"pieces": ["a"]},
    "level": {"pieces": ["a"]},
    "snap": {"piece": "a", "to": "top", "other": "b"},
    "duplicate": {"pieces": ["a"]},
    "delete": {"pieces": ["a"]},
    "hide": {"pieces": ["a"], "hidden": False},
    "lock": {"pieces": ["a"]},
    "fix": {"pieces": ["a"], "fixed": True},
    "group": {"pieces": ["a", "b"], "name": "arch"},
    "ungroup": {"module": "arch"},
    "take": {"item": "c", "at_mm": [100, 100, 50]},
    "discard": {"item": "c"},
    "stand_in": {"name": "grey slab", "size_mm": [210, 140, 45], "mass_kg": 2.9, "rock": "slate", "habit": "slab"},
    "join": {"between": ["a", "b"], "glue": "epoxy putty"},
    "unjoin": {"between": ["a", "b"]},
    "camera": {"focal_mm": 24, "fill": True},
    "water": {"level_mm": None},
    "undo": {},
    "redo": {},
    "save": {},
    "save_as": {"name": "other.toml"},
    "keep": {"name": "before lunch"},
    "compare": {"with": "saved"},
    "check": {},
    "order": {"given": ["a", "b"]},
    "shoot": {"flooded": False, "width_px": 640},
    "stop": {"job": "check"},
}


def asked(do: str, **fields: object) -> str:
    return json.dumps({"do": do, "id": 3, "on": 5, **fields})


def test_every_command_has_an_example_and_a_handler() -> None:
    assert EXAMPLES.keys() == protocol.COMMANDS.keys()
    assert set(commands.HANDLERS) == set(protocol.COMMANDS.values())


@pytest.mark.parametrize("do", EXAMPLES)
def test_a_command_comes_in_with_its_fields(do: str) -> None:
    found = read_command(asked(do, **EXAMPLES[do]))
    assert (found.id, found.on, found.do) == (3, 5, do)
    assert isinstance(found.command, protocol.COMMANDS[do])
    back = plain(found.command)
    for key, value in EXAMPLES[do].items():  # type: ignore[attr-defined]
        given = back[key]
        if key == "poses":
            given = [{name: one[name] for name in value[0]} for one in given]
        assert given == value


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "no JSON"),
        ("[1, 2]", "no JSON object"),
        ('{"do": "explode"}', "no command"),
        ('{"do": ["move"]}', "no command"),
        (asked("move", pieces=["a"]), "by_mm: is missing"),
        (asked("move", pieces="a", by_mm=[0, 0, 0]), "pieces: is no list"),
        (asked("move", pieces=["a"], by_mm=[0, 0]), "needs 3 values"),
        (asked("move", pieces=["a"], by_mm=[0, "0", 0]), "is not a number"),
        (asked("move", pieces=["a"], by_mm=[0, True, 0]), "is not a number"),
        (asked("move", pieces=["a"], by_mm=[0, 1e300, 0]), "too large"),
        ('{"do": "move", "pieces": ["a"], "by_mm": [0, NaN, 0]}', "no JSON"),
        ('{"do": "move", "pieces": ["a"], "by_mm": [0, Infinity, 0]}', "no JSON"),
        (asked("turn", pieces=["a"], axis="w", by_deg=1), "may be x, y, z"),
        (asked("undo", more=1), "has no 'more'"),
        (asked("hide", pieces=["a"], hidden=1), "true or false"),
        (asked("place", poses=[{"at_mm": [1, 2, 3]}]), "piece: is missing"),
        (asked("place", poses=[7]), "is no object"),
        (asked("hide", pieces=["a" * 6000]), "is not a text"),
        (json.dumps({"do": "undo", "id": "x"}), "whole number"),
        ("[" * 100_000, "no JSON"),
        ('{"do": "undo", "pad": "' + "x" * 2_000_000 + '"}', "too long"),
    ],
)
def test_what_is_no_command_is_refused_in_words(text: str, complaint: str) -> None:
    with pytest.raises(WireError, match=complaint.replace("[", r"\[")):
        read_command(text)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@given(do=st.sampled_from(sorted(protocol.COMMANDS)), fields=st.dictionaries(st.text(max_size=8), json_values))
def test_nothing_that_comes_in_ends_in_another_error(do: str, fields: dict[str, object]) -> None:
    try:
        found = read_command(json.dumps({**fields, "do": do}))
    except WireError:
        return
    assert isinstance(found.command, protocol.COMMANDS[do])


def test_tellings_are_json_without_numbers_that_are_none() -> None:
    told = protocol.Dragged(
        (), (protocol.FaultState("a", "base", "hovers", math.inf, "</script><script>alert(1)</script>"),)
    )
    table = json.loads(written(told))
    assert table["tell"] == "dragged"
    assert table["faults"][0]["by_mm"] is None
    assert table["faults"][0]["words"] == "</script><script>alert(1)</script>"


def test_every_telling_has_one_name() -> None:
    names = list(protocol.TELLINGS.values())
    assert len(set(names)) == len(names)
    assert all(dataclasses.is_dataclass(kind) for kind in protocol.TELLINGS)


def test_the_first_page_of_the_protocol_names_every_route() -> None:
    """What the page can fetch is written where its author looks."""
    from sim.yard import server

    text = protocol.__doc__ or ""
    routes = {"/mesh/", "/thumb/", "/shot/", "/concept", "/scan", "/scene.toml", "/scene.glb", "/export.zip", "/socket"}
    assert all(route in text for route in routes)
    source = server.application.__code__.co_consts
    assert any("/scan" in str(const) for const in source)
