"""What a ray can end on, and which wall of the tank it met."""

from __future__ import annotations

# ends
GOES_ON = 0
SOLID = 1  # a piece, or the floor: the triangle says which
OUTSIDE = 2  # left the tank, or never met it
SEAM = 3  # silicone along an inner edge
FILM = 4  # film, sheet or paint behind a pane
RIM = 5  # the edge of a pane
SOIL = 6  # ground that lies against a pane, seen through the glass
LOST = 7  # too many mirrors, or too little light left to follow

# walls
NO_WALL = -1
LEFT, RIGHT, BACK, FRONT, SURFACE, TOP, BASE = range(7)
WALL_NAMES = ("left pane", "right pane", "back pane", "front pane", "water surface", "open top", "base")
