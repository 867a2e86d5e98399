"""The front shot: where a point of the tank is in the picture, and what a pixel sees.

project   pixels of points in the tank, seen through the front pane, dry or flooded
ray       the ray of a pixel behind the front pane
"""

from sim.shot.projection import project, ray

__all__ = ["project", "ray"]
