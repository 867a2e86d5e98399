"""Published numbers, and what this program says to them now.

Glossary
--------
row        one number of a source, with its place, its tolerance and how ours is computed
subject    rows of one kind
scene file ours was found on the user's way: a scene file and its meshes, read, checked, reported
outcome    a row computed
"""

from __future__ import annotations

from sim.published.arches import ARCHES
from sim.published.blocks import BLOCKS
from sim.published.bodies import BODIES
from sim.published.gluing import GLUING
from sim.published.light import LIGHT
from sim.published.panes import PANES
from sim.published.plates import PLATES
from sim.published.row import BY_HAND, FUNCTION, SCENE, Outcome, Row, Subject, Tolerance, compute
from sim.published.supports import SUPPORTS
from sim.published.tables import TABLES
from sim.published.waters import WATERS, WEIGHTS

SUBJECTS: tuple[Subject, ...] = (
    BLOCKS,
    ARCHES,
    SUPPORTS,
    PLATES,
    PANES,
    GLUING,
    LIGHT,
    BODIES,
    WATERS,
    WEIGHTS,
    TABLES,
)


def chosen(text: str = "") -> list[tuple[str, Row]]:
    """Rows, each with its subject, that have `text` in subject, source, place, what or how, upper and lower case alike.

    Without a text all rows.
    """
    wanted = text.casefold()
    return [
        (subject.title, row)
        for subject in SUBJECTS
        for row in subject.rows
        if wanted in " ".join((subject.title, row.source, row.place, row.what, row.how)).casefold()
    ]


__all__ = [
    "BY_HAND",
    "FUNCTION",
    "SCENE",
    "SUBJECTS",
    "Outcome",
    "Row",
    "Subject",
    "Tolerance",
    "chosen",
    "compute",
]
