"""Which joints hold a stack, and whether a module bears being lifted.

Glossary
--------
candidate   a joint that could be made: two pieces near each other, and what would hold them
failure     a water and a tilt under which a choice of joints does not hold, and what then moves
cut         candidates of which any choice that holds must have at least one
"""

from sim.glue.candidates import Candidate, candidates_of
from sim.glue.lifted import judge_module
from sim.glue.suggesting import SuggestedJoint, Suggestion, suggest
from sim.glue.tilting import Failure, Tilts

__all__ = [
    "Candidate",
    "Failure",
    "SuggestedJoint",
    "Suggestion",
    "Tilts",
    "candidates_of",
    "judge_module",
    "suggest",
]
