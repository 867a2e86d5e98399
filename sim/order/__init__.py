"""In which order the pieces are set, so that every step stands.

Glossary
--------
unit        what is set in one go: a piece, or a module glued outside the tank
state       a set of units, and the joints that have cured
part        pieces of a state that touch or are joined; each part is judged once
hold        a hand or prop on a piece until a joint has cured or another piece is set
"""

from sim.order.carrying import carried_by
from sim.order.judging import Hold, Standing
from sim.order.modules import ModuleCheck, Proposal, check_module, propose_modules
from sim.order.moves import Merit, Move, may_be_set
from sim.order.ordering import HoldStep, Order, Step, best_order, try_order
from sim.order.partial import PartialStacks
from sim.order.problem import JointTime, Problem, Unit, bits, problem_of
from sim.order.reseating import Reseating
from sim.order.schedule import Schedule, Slot, schedule
from sim.order.search import Found, search

__all__ = [
    "Found",
    "Hold",
    "HoldStep",
    "JointTime",
    "Merit",
    "ModuleCheck",
    "Move",
    "Order",
    "PartialStacks",
    "Problem",
    "Proposal",
    "Reseating",
    "Schedule",
    "Slot",
    "Standing",
    "Step",
    "Unit",
    "best_order",
    "bits",
    "carried_by",
    "check_module",
    "may_be_set",
    "problem_of",
    "propose_modules",
    "schedule",
    "search",
    "try_order",
]
