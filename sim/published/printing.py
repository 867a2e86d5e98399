"""Outcomes as JSON, as the block of the README, and in one sentence."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path

from sim.errors import OutputError
from sim.files import write_atomically
from sim.materials import Status
from sim.published.row import BY_HAND, SCENE, Outcome

BEGIN = "<!-- sources: begin; written by `bedjoint sources --markdown -o README.md`, not by hand -->"
END = "<!-- sources: end -->"
WORTH: dict[Status, str] = {
    "read in a published copy": "read",
    "computed": "recomputed",
    "from memory": "from memory",
    "judgement": "judgement",
    "common practice, no source": "common practice, no source",
}
LEGEND = (
    "*read*: in a published copy; *recomputed*: from the source's formula, apart from this program; *from memory*: the "
    "source was not opened. *Scene*: ours comes from a scene file on the user's way, else from a function."
)
HEAD = "| What | Unit | Published | Ours | Deviation | Allowed | Worth | Scene | Source |"
RULE = "|---|---|--:|--:|--:|--:|---|---|---|"


def by_source(outcomes: Sequence[Outcome]) -> dict[str, int]:
    """Every source with its number, in the order of their first rows."""
    numbers: dict[str, int] = {}
    for outcome in outcomes:
        numbers.setdefault(outcome.row.source, len(numbers) + 1)
    return numbers


def by_subject(outcomes: Sequence[Outcome]) -> dict[str, list[Outcome]]:
    """Outcomes of each subject, in their order."""
    found: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        found.setdefault(outcome.subject, []).append(outcome)
    return found


def summary(outcomes: Sequence[Outcome]) -> str:
    """How many rows, sources and scenes, and how many rows are out of tolerance."""
    scenes = sum(outcome.row.how == SCENE for outcome in outcomes)
    out = sum(not outcome.inside for outcome in outcomes)
    numbers = by_source(outcomes)
    by_hand = sum(source.startswith(BY_HAND) for source in numbers)
    counted = f"{_counted(len(outcomes), 'number')} from {_counted(len(numbers) - by_hand, 'source')}"
    if by_hand:
        counted += f" and {_counted(by_hand, 'equation')} by hand"
    counted += f"; ours computed from a scene file for {scenes} of them"
    return f"{counted}: {'all within tolerance' if not out else f'{out} out of tolerance'}."


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def as_json(outcomes: Sequence[Outcome]) -> str:
    """One object: counts, and every row with all that is known of it."""
    rows = [
        {
            "subject": outcome.subject,
            "source": outcome.row.source,
            "place": outcome.row.place,
            "what": outcome.row.what,
            "unit": outcome.row.unit,
            "published": outcome.row.value,
            "ours": outcome.ours if math.isfinite(outcome.ours) else None,
            "deviation": outcome.deviation,
            "tolerance": str(outcome.row.tolerance),
            "why": outcome.row.tolerance.why,
            "status": outcome.row.status,
            "how": outcome.row.how,
            "within": outcome.inside,
            "trouble": outcome.trouble,
        }
        for outcome in outcomes
    ]
    counts = {
        "rows_in_all": len(rows),
        "sources": sum(not source.startswith(BY_HAND) for source in by_source(outcomes)),
        "from_scene_files": sum(row["how"] == SCENE for row in rows),
        "out_of_tolerance": sum(not row["within"] for row in rows),
    }
    return json.dumps({**counts, "rows": rows}, indent=2)


def as_markdown(outcomes: Sequence[Outcome]) -> str:
    """The block of the README, its two comment lines included."""
    numbers = by_source(outcomes)
    lines = [BEGIN, summary(outcomes), ""]
    for subject, rows in by_subject(outcomes).items():
        lines += [f"<details><summary>{subject}: {_counted(len(rows), 'number')}</summary>", "", HEAD, RULE]
        lines += [_line(outcome, numbers[outcome.row.source]) for outcome in rows]
        lines += ["", "</details>", ""]
    lines += [LEGEND, "", "<details><summary>Sources</summary>", ""]
    lines += [f"{number}. {source}" for source, number in numbers.items()]
    return "\n".join([*lines, "", "</details>", END])


def _line(outcome: Outcome, number: int) -> str:
    row = outcome.row
    ours = row.printed(outcome.ours) if outcome.inside else f"**{row.printed(outcome.ours)}, out of tolerance**"
    cells = (
        row.what,
        row.unit,
        row.published,
        ours,
        outcome.deviation,
        str(row.tolerance),
        WORTH[row.status],
        "yes" if row.how == SCENE else "",
        f"{number}, {row.place}",
    )
    return f"| {' | '.join(cell.replace('|', '/').replace('*', '·') for cell in cells[:3])} | {ours} | " + (
        " | ".join(cell.replace("|", "/") for cell in cells[4:]) + " |"
    )


def put_into(file: Path, block: str) -> None:
    """Replace what stands between the two comment lines of a file, the lines included.

    Raises
    ------
    OutputError
        When the file cannot be read, or has no such lines.
    """
    try:
        text = file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise OutputError(f"{file}: cannot be read. Give the README that the table belongs into.") from error
    start, end = text.find(BEGIN), text.find(END)
    if start < 0 or end < start:
        raise OutputError(f"{file}: the table's place is not marked. Put these lines into it:\n{BEGIN}\n{END}")
    write_atomically(file, text[:start] + block + text[end + len(END) :])
