"""The scene file: what it may say, reading it, and changing it without losing the user's comments.

read_scene      a checked `Scene`, or one error with every fault
read_document   the text as a `Document` for set_pose, add_piece, add_joint, ...; then save
"""

from sim.scene.document import Document
from sim.scene.edit import (
    Pose,
    add_joint,
    add_piece,
    document_of,
    parse_document,
    read_document,
    remove_joints,
    remove_piece,
    save,
    set_camera,
    set_key,
    set_piece_key,
    set_pose,
    set_poses,
    write_scene,
)
from sim.scene.joining import FrictionPair, JointEntry, ModuleEntry, RuleEntry
from sim.scene.model import Scene
from sim.scene.picture import Background, Camera, Photo
from sim.scene.piece import Generate, PieceEntry, StandIn
from sim.scene.read import parse_scene, read_scene
from sim.scene.schema import json_schema
from sim.scene.settings import Budget, Check, Expect, Pack, Prices
from sim.scene.starter import starter
from sim.scene.tank import Ground, GroundLayer, Mat, Stand, Tank, UnderStones, Water

__all__ = [
    "Scene",
    "read_scene",
    "parse_scene",
    "Document",
    "Pose",
    "read_document",
    "parse_document",
    "document_of",
    "set_pose",
    "set_poses",
    "set_piece_key",
    "set_key",
    "set_camera",
    "add_piece",
    "add_joint",
    "remove_piece",
    "remove_joints",
    "save",
    "write_scene",
    "json_schema",
    "starter",
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
