"""How long the hands need, and how much one person should lift in one go."""

from __future__ import annotations

from sim.materials.values import JUDGEMENT, Value

SET_MIN = Value(10.0, 3.0, 30.0, "min", "to take up, turn, set down and look at one piece: our estimate", JUDGEMENT)
GLUE_MIN = Value(5.0, 2.0, 15.0, "min", "to clean two faces and put glue between them: our estimate", JUDGEMENT)
