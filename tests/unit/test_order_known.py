"""Stacks whose orders are known without a search."""

from __future__ import annotations

from math import comb, factorial
from pathlib import Path

import manifold3d
import numpy as np
import pytest
from boxes import FLOOR_MM, HEAD, box_entry, scene_of
from orders import DRY, best_order, column, ideals, legal_orders, overhang, problem_of_boxes, ready, search
from solids import Solid, Stack, box, ring_sector

from sim.errors import SceneError
from sim.order import Order, PartialStacks, Problem, try_order
from sim.scene import read_scene

TIGHT_HAND = "[check]\nhand_mm = 5\n"


def _units(order: Order) -> list[str]:
    return [step.unit for step in order.steps]


def _harmonic(folder: Path, count: int, share: float) -> Problem:
    """Slabs over the edge of a fixed table; the k-th from the top hangs over the one below by `share` of L / 2k.

    MathWorld, "Book Stacking Problem", equation 1.
    """
    length = 100.0
    entries = [box_entry(folder, "table", (200, 120, 60), (150, 200, FLOOR_MM), 'rock = "granite"\nfixed = true')]
    right = 250.0
    for k in range(count, 0, -1):
        right += share * length / (2.0 * k)
        at = (right - length / 2.0, 200.0, FLOOR_MM + 60.0 + 15.0 * (count - k))
        entries.append(box_entry(folder, f"slab_{k}", (length, 60, 15), at))
    return problem_of_boxes(folder, *entries)


def test_the_harmonic_stack_is_built_bottom_up(tmp_path: Path) -> None:
    problem = _harmonic(tmp_path, 4, 0.97)
    order = best_order(problem)
    assert order.verdict == "stands at every step"
    assert _units(order) == ["slab_4", "slab_3", "slab_2", "slab_1"]
    assert len(list(legal_orders(problem))) == 1
    assert order.worst_step == 4  # the whole is the nearest to falling
    upside_down = try_order(problem, ["slab_4", "slab_3", "slab_1", "slab_2"])
    assert upside_down.verdict == "no order"
    assert upside_down.fails_at == 3
    assert "slab_2 is not there yet and carries it" in upside_down.reason


def test_a_harmonic_stack_that_reaches_too_far_has_no_order(tmp_path: Path) -> None:
    order = best_order(_harmonic(tmp_path, 4, 1.02))
    assert order.verdict == "no order"
    assert "the finished stack does not stand" in order.reason


def test_a_counterweight_comes_before_its_tip(tmp_path: Path) -> None:
    problem = problem_of_boxes(tmp_path, *overhang(tmp_path))
    order = best_order(problem)
    assert order.verdict == "stands at every step"
    assert _units(order) == ["foot", "beam", "counterweight", "tip"]
    assert order.holds == 0
    assert order.proved
    wrong = try_order(problem, ["foot", "beam", "tip", "counterweight"])
    assert wrong.verdict == "needs holds"
    assert [(hold.piece, hold.until) for step in wrong.steps for hold in step.holds] == [
        ("beam", "counterweight is set")
    ]
    (held,) = (step for step in wrong.steps if step.holds)
    assert held.unit == "tip"
    assert held.margin_deg is None


def test_the_prop_under_an_overhang_carries_what_the_lever_says(tmp_path: Path) -> None:
    """Moments about the foot's edge; the prop stands under the beam's outer edge."""
    problem = problem_of_boxes(tmp_path, *overhang(tmp_path))
    wrong = try_order(problem, ["foot", "beam", "tip", "counterweight"])
    (hold,) = (hold for step in wrong.steps for hold in step.holds)
    assert hold.at_mm is not None
    weight_n = dict(zip(problem.names, problem.loads.weight_n, strict=True))
    edge, prop = 340.0, hold.at_mm[0]
    assert prop == pytest.approx(460.0)
    needed_n = (weight_n["tip"] * (430.0 - edge) - weight_n["beam"] * (edge - 310.0)) / (prop - edge)
    # between what just keeps it from tipping and what three elastic beds share out
    assert hold.force_n[2] >= needed_n * 0.999
    assert hold.force_n[2] < weight_n["tip"] + weight_n["beam"]


def _arch(folder: Path, count: int = 5) -> Problem:
    """A semicircle of voussoirs on fixed springings, thick enough to stand."""
    inner, outer, spring = 90.0, 130.0, 30.0
    middle = (300.0, 100.0, spring)
    stack = Stack(folder, inner_mm=(600.0, 300.0, 400.0), settings=TIGHT_HAND)
    for name, left in (("west", middle[0] - outer - 5.0), ("east", middle[0] + inner - 5.0)):
        springing = box((left, middle[1] - 10.0, 0.0), (outer - inner + 10.0, 80.0, spring))
        stack.put(name, springing, keys="fixed = true")
    span = 180.0 / count
    sector = ring_sector(inner, outer, span, 60.0, 8)
    for k in range(count):
        stack.put(f"v{k + 1}", sector, at_mm=middle, turn_deg=-90.0 + span * (k + 0.5))
    return ready(read_scene(stack.write()))[1]


def test_an_arch_is_held_until_its_keystone_and_not_after(tmp_path: Path) -> None:
    problem = _arch(tmp_path)
    order = best_order(problem)
    assert order.verdict == "needs holds"
    assert order.proved
    assert _units(order)[-1] == "v3"
    assert not order.steps[-1].holding
    assert order.steps[-1].margin_deg is not None
    holds = [hold for step in order.steps for hold in step.holds]
    assert 1 <= order.holds == len(holds)
    before_key = order.steps[-2]
    assert before_key.holding
    last = [hold for hold in holds if hold.piece in before_key.holding]
    assert {hold.until for hold in last} == {"v3 is set"}
    # the springers lie on the springings by themselves
    assert not order.steps[0].holding


def test_no_order_of_the_arch_goes_without_a_hold(tmp_path: Path) -> None:
    problem = _arch(tmp_path)
    stacks = PartialStacks(problem)
    key = problem.index("v3")
    haunches = problem.everything & ~(1 << key)
    assert any(not one.stands for one in stacks.judged(haunches, 0))
    assert all(one.stands for one in stacks.judged(problem.everything, 0))


@pytest.mark.parametrize("count", [1, 3, 6])
def test_a_column_of_cubes_has_one_order(tmp_path: Path, count: int) -> None:
    problem = problem_of_boxes(tmp_path, *column(tmp_path, "cube", count, 300, 200))
    orders = list(legal_orders(problem))
    assert len(orders) == 1
    order = best_order(problem)
    assert _units(order) == [problem.units[k].id for k in orders[0]] == [f"cube_{k + 1}" for k in range(count)]
    assert order.proved
    # it tips over its edge: half a side over half the height
    assert order.worst_margin_deg == pytest.approx(np.degrees(np.arctan(1.0 / count)), abs=0.05)


def test_independent_stacks_commute(tmp_path: Path) -> None:
    heights = (3, 2, 2)
    entries = [
        entry
        for name, count, x in zip("abc", heights, (120, 300, 480), strict=True)
        for entry in column(tmp_path, name, count, x, 200)
    ]
    problem = problem_of_boxes(tmp_path, *entries)
    assert len(ideals(problem)) == np.prod([count + 1 for count in heights])
    assert len(list(legal_orders(problem))) == factorial(7) // (factorial(3) * factorial(2) * factorial(2))
    stacks = PartialStacks(problem)
    stacks.prepare([(units, 0) for units in ideals(problem)])
    # each column has so many partial stacks, less the empty one; the states are their product, the parts their sum
    assert len(stacks.standing) == sum(heights)
    assert search(stacks).proved
    assert len(stacks.standing) == sum(heights)


def test_judged_parts_are_the_order_ideals_of_each_stack(tmp_path: Path) -> None:
    """A slab under two columns, twice: every ideal of a stack hangs together through its slab."""
    entries = []
    for name, x in (("a", 170), ("b", 430)):
        entries.append(box_entry(tmp_path, f"{name}_slab", (200, 80, 20), (x, 200, FLOOR_MM)))
        for side, count in ((-50, 2), (50, 3)):
            entries += [
                box_entry(
                    tmp_path, f"{name}{side:+d}_{k}".replace("+", "r").replace("-", "l"), (30, 30, 30),
                    (x + side, 200, FLOOR_MM + 20 + 30 * k),
                )
                for k in range(count)
            ]  # fmt: skip
    problem = problem_of_boxes(tmp_path, *entries)
    whole = ideals(problem)
    one_stack = sum(1 << k for k, unit in enumerate(problem.units) if unit.id.startswith("a"))
    of_one = {units & one_stack for units in whole}
    assert len(of_one) == 1 + 3 * 4  # nothing, or the slab with any heights of its two columns
    assert len(whole) == len(of_one) ** 2
    stacks = PartialStacks(problem)
    stacks.prepare([(units, 0) for units in whole])
    assert len(stacks.standing) == 2 * (len(of_one) - 1)
    assert {part for part, _ in stacks.standing} == {
        problem.pieces_in(units & mask) for units in whole for mask in (one_stack, problem.everything & ~one_stack)
    } - {0}


def _hooked(folder: Path) -> Problem:
    """One's tongue lies in the other's slot, which it fills: each rests on the other."""
    one = Solid(*_outline([(0, 0), (30, 0), (30, 30), (90, 30), (90, 50), (30, 50), (30, 80), (0, 80)]))
    other = Solid(
        *_outline(
            [(120, 0), (150, 0), (150, 80), (50, 80), (50, 50), (120, 50), (120, 30), (60, 30), (60, 10), (120, 10)]
        )
    )
    stack = Stack(folder, inner_mm=(400.0, 300.0, 300.0), settings=TIGHT_HAND)
    stack.put("one", one, at_mm=(100.0, 100.0, 0.0))
    stack.put("other", other, at_mm=(100.0, 100.0, 0.0))
    return ready(read_scene(stack.write()))[1]


def _outline(corners: list[tuple[float, float]]) -> tuple[np.ndarray, tuple[tuple[int, int, int], ...]]:
    """An outline in the x-z plane, counter-clockwise, drawn out along y."""
    mesh = manifold3d.Manifold.extrude(manifold3d.CrossSection([corners]), 60.0).to_mesh64()
    turned = np.asarray(mesh.vert_properties)[:, [0, 2, 1]]
    return turned, tuple((int(a), int(c), int(b)) for a, b, c in mesh.tri_verts)


def test_pieces_that_carry_each_other_are_named(tmp_path: Path) -> None:
    order = best_order(_hooked(tmp_path))
    assert order.verdict == "no order"
    assert order.proved
    assert "one" in order.reason
    assert "other" in order.reason
    assert "carries" in order.reason


def test_a_rule_against_what_carries_what_is_named(tmp_path: Path) -> None:
    rule = '[[rule]]\nbefore = ["cube_2", "cube_1"]\n'
    order = best_order(problem_of_boxes(tmp_path, *column(tmp_path, "cube", 2, 300, 200), rule))
    assert order.verdict == "no order"
    assert order.proved
    assert "cube_1" in order.reason
    assert "cube_2" in order.reason
    assert "your rule" in order.reason


def test_contradictory_rules_are_refused_with_their_names(tmp_path: Path) -> None:
    rules = '[[rule]]\nbefore = ["a_1", "b_1"]\n[[rule]]\nafter = ["a_1", "b_1"]\n'
    entries = [*column(tmp_path, "a", 1, 200, 200), *column(tmp_path, "b", 1, 400, 200)]
    with pytest.raises(SceneError, match=r"contradict each other: .*a_1.*b_1|contradict each other: .*b_1.*a_1"):
        scene_of(tmp_path, *entries, rules)


def test_rules_of_the_builder_are_kept(tmp_path: Path) -> None:
    rules = '[[rule]]\nbefore = ["b_2", "a_1"]\n'
    entries = [*column(tmp_path, "a", 2, 200, 200), *column(tmp_path, "b", 2, 400, 200)]
    problem = problem_of_boxes(tmp_path, *entries, rules)
    order = best_order(problem)
    assert _units(order) == ["b_1", "b_2", "a_1", "a_2"]
    assert len(list(legal_orders(problem))) == 1


def test_a_piece_that_no_way_leads_to_is_named(tmp_path: Path) -> None:
    """Too long for the opening between the braces."""
    head = DRY.replace("side_mm = 8", "side_mm = 8\nopening_mm = [200, 200]")
    bar = box_entry(tmp_path, "bar", (300, 40, 40), (300, 200, FLOOR_MM))
    order = best_order(problem_of_boxes(tmp_path, *column(tmp_path, "cube", 1, 300, 300), bar, head=head))
    assert order.verdict == "no order"
    assert order.proved
    assert "bar: it does not fit through the opening" in order.reason


def test_what_stands_under_a_roof_comes_before_it_or_from_the_side(tmp_path: Path) -> None:
    """Two piers, a lintel, and a stone between them: straight down before the lintel, later only from the front."""
    entries = [
        box_entry(tmp_path, "left", (40, 60, 60), (230, 200, FLOOR_MM)),
        box_entry(tmp_path, "right", (40, 60, 60), (370, 200, FLOOR_MM)),
        box_entry(tmp_path, "lintel", (200, 60, 20), (300, 200, FLOOR_MM + 60)),
        box_entry(tmp_path, "stone", (40, 40, 30), (300, 200, FLOOR_MM)),
    ]
    problem = problem_of_boxes(tmp_path, *entries)
    late = try_order(problem, ["left", "right", "lintel", "stone"])
    assert late.verdict == "stands at every step"
    assert late.steps[-1].way_in.startswith("down ")
    assert "front" in late.steps[-1].way_in or "behind" in late.steps[-1].way_in
    early = try_order(problem, ["left", "right", "stone", "lintel"])
    assert early.steps[2].way_in == "straight down"


def test_walled_in_all_around_it_must_come_first(tmp_path: Path) -> None:
    """Four walls and a roof: the stone inside has no way in once the roof lies, and the search knows."""
    z = FLOOR_MM
    entries = [
        box_entry(tmp_path, "west", (20, 160, 60), (220, 200, z)),
        box_entry(tmp_path, "east", (20, 160, 60), (380, 200, z)),
        box_entry(tmp_path, "north", (140, 20, 60), (300, 270, z)),
        box_entry(tmp_path, "south", (140, 20, 60), (300, 130, z)),
        box_entry(tmp_path, "stone", (40, 40, 30), (300, 200, z)),
        box_entry(tmp_path, "roof", (180, 160, 20), (300, 200, z + 60)),
    ]
    problem = problem_of_boxes(tmp_path, *entries)
    order = best_order(problem)
    assert order.verdict == "stands at every step"
    names = _units(order)
    assert names.index("stone") < names.index("roof")
    late = try_order(problem, ["west", "east", "north", "south", "roof", "stone"])
    assert late.verdict == "no order"
    assert late.fails_at == 6
    assert "roof would be in it" in late.reason


def test_a_pyramid_counts_its_ideals(tmp_path: Path) -> None:
    """Three, two, one: the sets that may be reached, counted by hand."""
    entries = []
    for row in range(3):
        for k in range(3 - row):
            at = (220 + 40 * row + 80 * k, 200, FLOOR_MM + 30 * row)
            entries.append(box_entry(tmp_path, f"r{row}_{k}", (78, 60, 30), at))
    problem = problem_of_boxes(tmp_path, *entries, "[check]\nhand_mm = 0\n")
    # of the bottom row any set; a middle one for each full pair; the top one for both
    by_hand = sum(comb(3, k) for k in range(3)) + (1 + 2 + 1) + 1 + (comb(3, 2) - 1)
    assert len(ideals(problem)) == by_hand
    assert search(PartialStacks(problem)).proved


def test_wet_level_does_not_matter_while_building(tmp_path: Path) -> None:
    """Building is judged in air, whatever the level."""
    entries = column(tmp_path, "cube", 3, 300, 200)
    dry, wet = (best_order(problem_of_boxes(tmp_path, *entries, head=head)) for head in (DRY, HEAD))
    assert dry == wet
