"""The errors that a user can meet.

    BedjointError                 anything that ends a command with exit status 2
    ├── SceneError                a scene file that cannot be used; lists every fault at once
    ├── MaterialError             an unknown rock, wood, glass, mat or glue, or a value out of range
    ├── MeshError                 a scan or mesh that cannot become a piece
    │   └── UnitsQuestion         the size does not tell the units; carries the candidates
    ├── PieceError                a piece of a scene that cannot be made; names the piece and says why
    ├── StandInError              calipers, weight and rock that do not fit together
    ├── OutputError               a file that cannot be written
    └── SolverError               a solver that gave no answer ('undetermined' in a report)

A message says what is wrong, in which file, piece or line, and what to do about it.
An unstable stack is a result and never an error.
"""

from __future__ import annotations

from dataclasses import dataclass


class BedjointError(Exception):
    """Anything that ends a command with exit status 2."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault in a scene file.

    `path` is the place in the file as a reader would say it, such as
    ``piece[3] "ledge_4".at_mm``; `remedy` says what is allowed there.
    """

    path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.path}: {self.problem}. {self.remedy}" if self.path else f"{self.problem}. {self.remedy}"


class SceneError(BedjointError):
    """A scene file that cannot be used."""

    def __init__(self, file: str, faults: list[Fault]) -> None:
        self.file = file
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{file}: {count}", *(f"  {fault}" for fault in faults)]))


class MaterialError(BedjointError):
    """An unknown material, or a value outside its range."""


class MeshError(BedjointError):
    """A scan or mesh that cannot become a piece."""


class UnitsQuestion(MeshError):
    """The size of a mesh does not tell its units: the user must choose."""

    def __init__(self, message: str, candidates: dict[str, float]) -> None:
        self.candidates = candidates
        super().__init__(message)


class PieceError(BedjointError):
    """A piece of a scene that cannot be made."""


class StandInError(BedjointError):
    """Three caliper sizes, a weight and a rock that do not fit together."""


class OutputError(BedjointError):
    """A file or folder that cannot be written."""


class SolverError(BedjointError):
    """A solver that gave no answer; reports turn it into 'undetermined'."""
