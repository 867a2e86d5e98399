"""The scene file: what it may say, reading it, and changing it without losing the user's comments."""

from sim.scene.joining import FrictionPair, JointEntry, ModuleEntry, RuleEntry
from sim.scene.model import Scene
from sim.scene.picture import Background, Camera, Photo
from sim.scene.piece import Generate, PieceEntry, StandIn
from sim.scene.read import parse_scene, read_scene
from sim.scene.settings import Budget, Check, Expect, Pack, Prices
from sim.scene.tank import Ground, GroundLayer, Mat, Stand, Tank, UnderStones, Water

__all__ = [
    "Scene",
    "read_scene",
    "parse_scene",
    "Tank",
    "Mat",
    "Stand",
    "UnderStones",
    "Water",
    "Ground",
    "GroundLayer",
    "PieceEntry",
    "Generate",
    "StandIn",
    "JointEntry",
    "ModuleEntry",
    "RuleEntry",
    "FrictionPair",
    "Camera",
    "Background",
    "Photo",
    "Prices",
    "Pack",
    "Budget",
    "Check",
    "Expect",
]
