"""What stone, wood, ground and glue cost, and what is left of the budget."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from sim import materials
from sim.base.ground import layer_depth_m, plan_points_m
from sim.materials import adhesive
from sim.pieces.placing import PlacedPiece
from sim.scene import Pack, Scene
from sim.units import ML_PER_M3, MM_PER_M

ROUNDING = 1.0e-9  # share of a pack by which an amount may exceed whole packs


@dataclass(frozen=True, slots=True)
class CostItem:
    """One line of the bill."""

    what: str  # rock, wood, ground or glue, by its name in the tables
    amount: float
    unit: Literal["kg", "g"]
    packs: int | None  # of glue
    price: float | None  # of the whole line; None where the scene gives no price


@dataclass(frozen=True, slots=True)
class Costs:
    """The bill."""

    currency: str
    items: tuple[CostItem, ...]
    total: float  # of what has a price
    without_price: tuple[str, ...]
    budget: float | None
    left: float | None  # of the budget; negative: overspent


def costs_of(scene: Scene, pieces: Sequence[PlacedPiece], glue_g: Mapping[str, float]) -> Costs | None:
    """Add up what a scene needs; None where it gives neither prices nor a budget.

    Parameters
    ----------
    glue_g : mass to buy of each glue, waste included, g; only whole packs are sold
    """
    prices = scene.prices
    if not prices.per_kg and not prices.packs and scene.budget is None:
        return None
    per_kg = {name.lower(): price for name, price in prices.per_kg.items()}
    items = []
    for name, mass_kg in sorted(masses_kg(scene, pieces).items()):
        price = per_kg.get(name.lower())
        items.append(CostItem(name, mass_kg, "kg", None, None if price is None else price * mass_kg))
    packs = {name.lower(): pack for name, pack in prices.packs.items()}
    for name, mass_g in sorted(glue_g.items()):
        pack = packs.get(name.lower())
        count = None if pack is None else packs_needed(pack, name, mass_g)
        items.append(CostItem(name, mass_g, "g", count, None if pack is None or count is None else pack.price * count))
    total = sum(item.price for item in items if item.price is not None)
    budget = None if scene.budget is None else scene.budget.total
    return Costs(
        currency=prices.currency,
        items=tuple(items),
        total=total,
        without_price=tuple(item.what for item in items if item.price is None),
        budget=budget,
        left=None if budget is None else budget - total,
    )


def packs_needed(pack: Pack, glue: str, mass_g: float) -> int:
    """Whole packs that hold so much glue, g; a pack given in ml by the density of the glue."""
    content_g = pack.g
    if content_g is None:
        content_g = (pack.ml or 0.0) / ML_PER_M3 * adhesive(glue).density_kg_m3.default * 1000.0
    return max(ceil(mass_g / content_g - ROUNDING), 0)


def masses_kg(scene: Scene, pieces: Sequence[PlacedPiece]) -> dict[str, float]:
    """Dry mass of every rock, wood and ground by its name, kg; pieces of no material under 'other'."""
    found: dict[str, float] = {}
    for piece in pieces:
        name = "other" if piece.material is None else piece.material.name
        found[name] = found.get(name, 0.0) + piece.mass_kg
    length_m, depth_m, _ = (side / MM_PER_M for side in scene.tank.inner_mm)
    points = plan_points_m(scene)
    for layer in scene.ground.layers:
        kind = materials.ground(layer.material)
        volume_m3 = float(layer_depth_m(layer, scene, points).mean()) * length_m * depth_m
        found[kind.name] = found.get(kind.name, 0.0) + volume_m3 * kind.dry_kg_m3.default
    return found
