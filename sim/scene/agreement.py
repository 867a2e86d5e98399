"""Faults that show only when the whole scene is seen: names, heights, and the order of setting.

These checks read the tables as they came, so that one invalid value hides no other fault.
"""

from __future__ import annotations

import graphlib
import re
from collections.abc import Collection, Iterator

from sim.scene.names import PRICED_NAMES, SURFACE_NAMES, listed, suggestion
from sim.scene.section import Disagreement, Raw

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}")


def scene_disagreements(raw: Raw) -> Iterator[Disagreement]:
    """Everything in a scene that does not go together."""
    pieces = [piece.text("id") for piece in raw.parts("piece")]
    modules = [module.text("id") for module in raw.parts("module")]
    known = {name for name in pieces if name}
    yield from _used_twice("piece", pieces, set())
    yield from _used_twice("module", modules, known)
    yield from _joints(raw, known)
    yield from _modules(raw, known)
    yield from _rules(raw, known | {name for name in modules if name})
    yield from _friction(raw, known)
    yield from _missing("expect", None, "moving", raw.part("expect"), "piece", known)
    yield from _heights(raw)
    yield from _prices(raw)


def _used_twice(section: str, names: list[str | None], taken: set[str]) -> Iterator[Disagreement]:
    seen: dict[str, str] = dict.fromkeys(taken, "a piece")
    for index, name in enumerate(names):
        if name is None or not _NAME.fullmatch(name):
            continue
        if name in seen:
            yield Disagreement(
                (section, index, "id"),
                f'the id "{name}" is used twice, before by {seen[name]}',
                "Give each its own id.",
            )
        seen.setdefault(name, f"{section}[{index + 1}]")


def _missing(
    section: str, index: int | None, key: str, table: Raw, kind: str, known: Collection[str]
) -> Iterator[Disagreement]:
    """A name in a list of names that nothing in the scene bears."""
    place: tuple[str | int, ...] = (section,) if index is None else (section, index)
    for number, name in enumerate(table.items(key)):
        if isinstance(name, str) and _NAME.fullmatch(name) and name not in known:
            hint = suggestion(name, known) or (f"There are: {listed(sorted(known)[:12])}. " if known else "")
            yield Disagreement(
                (*place, key, number), f'there is no {kind} "{name}"', f"{hint}Name a {kind} of this file."
            )


def _joints(raw: Raw, known: Collection[str]) -> Iterator[Disagreement]:
    seen: dict[tuple[str, ...], int] = {}
    for index, joint in enumerate(raw.parts("joint")):
        yield from _missing("joint", index, "between", joint, "piece", known)
        ends = joint.texts("between")
        if len(ends) != 2 or joint.has("at_mm"):
            continue
        pair = (*sorted(ends), joint.text("kind") or "glue")
        if pair in seen:
            yield Disagreement(
                ("joint", index, "between"),
                f"joint[{seen[pair] + 1}] already is the {pair[2]} between these two",
                "Leave one out, or say with at_mm where each of them is.",
            )
        seen.setdefault(pair, index)


def _modules(raw: Raw, known: Collection[str]) -> Iterator[Disagreement]:
    owner: dict[str, int] = {}
    fixed = {piece.text("id") for piece in raw.parts("piece") if piece.table.get("fixed") is True}
    for index, module in enumerate(raw.parts("module")):
        yield from _missing("module", index, "pieces", module, "piece", known)
        for number, name in enumerate(module.items("pieces")):
            if not isinstance(name, str):
                continue
            at = ("module", index, "pieces", number)
            if owner.get(name, index) != index:
                yield Disagreement(
                    at,
                    f'"{name}" already belongs to module[{owner[name] + 1}]',
                    "A piece belongs to one module at most.",
                )
            if name in fixed:
                yield Disagreement(at, f'"{name}" is fixed and cannot be lifted in', "Leave it out of the module.")
            owner.setdefault(name, index)


def _rules(raw: Raw, known: Collection[str]) -> Iterator[Disagreement]:
    """Rules must name what exists and must not run in a circle, modules counting as one."""
    home = {name: str(module.text("id")) for module in raw.parts("module") for name in module.texts("pieces")}
    between: dict[str, set[str]] = {}
    within: dict[str, set[str]] = {}
    for index, rule in enumerate(raw.parts("rule")):
        for key in ("before", "after"):
            yield from _missing("rule", index, key, rule, "piece or module", known)
            ends = rule.texts(key)
            if len(ends) != 2 or ends[0] == ends[1]:
                continue
            first, then = ends if key == "before" else reversed(ends)
            if home.get(first, first) == home.get(then, then):
                within.setdefault(then, set()).add(first)
            else:
                between.setdefault(home.get(then, then), set()).add(home.get(first, first))
    for graph in (between, within):
        circle = _circle(graph)
        if circle:
            yield Disagreement(
                ("rule",),
                f"the rules contradict each other: {' before '.join(circle)}",
                "Leave out one of these rules.",
            )


def _circle(earlier: dict[str, set[str]]) -> list[str]:
    """Names that each must come before the next and the last before the first, if there are any."""
    graph = {then: sorted(earlier[then]) for then in sorted(earlier)}
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        circle: list[str] = error.args[1]
        return circle
    return []


def _friction(raw: Raw, known: Collection[str]) -> Iterator[Disagreement]:
    choices = [*known, *SURFACE_NAMES]
    seen: dict[tuple[str, ...], int] = {}
    for index, pair in enumerate(raw.parts("friction")):
        for number, name in enumerate(pair.items("between")):
            if isinstance(name, str) and name and name not in choices:
                remedy = f"{suggestion(name, choices)}Name a piece or one of {listed(SURFACE_NAMES)}."
                yield Disagreement(
                    ("friction", index, "between", number), f'"{name[:60]}" is neither a piece nor a material', remedy
                )
        ends = tuple(sorted(pair.texts("between")))
        if len(ends) == 2 and ends in seen:
            yield Disagreement(
                ("friction", index, "between"), f"friction[{seen[ends] + 1}] already is this pair", "Leave one out."
            )
        seen.setdefault(ends, index)


def _heights(raw: Raw) -> Iterator[Disagreement]:
    inner_mm = raw.part("tank").numbers("inner_mm")
    if inner_mm is None or len(inner_mm) != 3:
        return
    height_mm = inner_mm[2]
    level_mm = raw.part("water").number("level_mm")
    if level_mm is not None and level_mm > height_mm:
        yield Disagreement(
            ("water", "level_mm"),
            f"{level_mm:g} mm of water in a tank {height_mm:g} mm high",
            f"Give 0 to {height_mm:g} mm.",
        )
    layers = raw.part("ground").parts("layers")
    for key in ("front_mm", "back_mm"):
        total_mm = sum(layer.number(key) or 0.0 for layer in layers)
        if total_mm > height_mm:
            yield Disagreement(
                ("ground", "layers"),
                f"{key} of all layers is {total_mm:g} mm in a tank {height_mm:g} mm high",
                f"Give at most {height_mm:g} mm in all.",
            )
    for index, layer in enumerate(layers):
        for row in layer.items("height_map_mm"):
            peak_mm = max(Raw({"row": row}).numbers("row") or [0.0])
            if peak_mm > height_mm:
                yield Disagreement(
                    ("ground", "layers", index, "height_map_mm"),
                    f"{peak_mm:g} mm of ground in a tank {height_mm:g} mm high",
                    f"Give at most {height_mm:g} mm.",
                )


def _prices(raw: Raw) -> Iterator[Disagreement]:
    for name in raw.part("prices").part("per_kg").table:
        if name not in PRICED_NAMES:
            yield Disagreement(
                ("prices", "per_kg", str(name)),
                "no rock, wood or ground that the tables know",
                f"{suggestion(str(name), PRICED_NAMES)}Allowed: {listed(PRICED_NAMES)}.",
            )
