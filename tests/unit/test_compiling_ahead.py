"""What is compiled ahead is what is used: for the same types, and with nothing left out."""

from __future__ import annotations

import sys
from types import ModuleType

import numpy as np
import pytest
import trimesh

from sim.contact import Poses, ahead, assemble, find_contacts, overlaps, relax, tank_planes
from sim.pieces.mass import make_body


def contact_modules() -> list[ModuleType]:
    return [module for name, module in sys.modules.items() if name.startswith("sim.contact.")]


@pytest.fixture
def at_work() -> None:
    """A block beside another that it overlaps a little, one of them let go."""
    box = trimesh.creation.box((0.05, 0.05, 0.05))
    body = make_body(np.asarray(box.vertices), np.asarray(box.faces))
    assembly = assemble([body, body], np.ones(2), np.full((2, 7), 0.6), tank_planes(np.array([0.9, 0.6, 0.6])))
    poses = Poses(np.tile(np.eye(3), (2, 1, 1)), np.array([[0.3, 0.3, 0.025], [0.3, 0.3, 0.07499]]))
    assert overlaps(assembly, poses, 1.0e-6)
    overlaps(assembly, poses)  # too shallow to be one: looks for faces that coincide
    relax(assembly, poses, np.array([False, True]), None, 5)
    assert len(find_contacts(assembly, poses).a)


@pytest.mark.usefixtures("at_work")
def test_every_function_is_compiled_for_one_set_of_types() -> None:
    """Also those of the arguments that stand in for the real ones."""
    ahead.compile_all(ahead.HERE + ahead.BESIDE)
    for function in ahead.HERE + ahead.BESIDE:
        assert len(function.signatures) == 1, function.py_func.__name__


@pytest.mark.usefixtures("at_work")
def test_nothing_else_is_compiled_at_work() -> None:
    """A compiled function that only other compiled functions call is part of theirs."""
    known = {function.py_func for function in ahead.HERE + ahead.BESIDE}
    for module in contact_modules():
        for value in vars(module).values():
            if hasattr(value, "py_func") and value.signatures and value.py_func not in known:
                assert value.py_func.__name__ in {"hull_2d", "reduce_corners", "signed_distances"}
