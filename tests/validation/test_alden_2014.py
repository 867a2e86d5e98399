"""Densities of rock.

Source: Alden, Densities of Common Rock Types, about.com geology, copy of 2014 (read): relative to water.
"""

from __future__ import annotations

import pytest

from sim.materials import rock


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("basalt", 2.8, 3.0),
        ("dolerite", 2.6, 3.0),  # listed as diabase
        ("gneiss", 2.6, 2.9),
        ("granite", 2.6, 2.7),
        ("limestone", 2.3, 2.7),
        ("marble", 2.4, 2.7),
        ("quartzite", 2.6, 2.8),
        ("sandstone", 2.2, 2.8),
        ("shale", 2.4, 2.8),
        ("slate", 2.7, 2.8),
    ],
)
def test_ranges(name: str, low: float, high: float) -> None:
    density = rock(name).density_kg_m3
    assert (density.low, density.high) == (1000.0 * low, pytest.approx(1000.0 * high))
