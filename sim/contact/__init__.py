"""Contact and seating on the true meshes.

Glossary
--------
surface     a body made ready for contact: triangles in a tree, sample points in clusters
assembly    pieces that may touch, with masses, friction, base and panes
touch       a point where two surfaces are nearest, with normal and gap
patch       touches that belong together: one bearing area of one piece on another
contact     a corner of a patch; what the statics works on
seating     letting one piece come to rest on others that stand still
relaxation  letting all pieces come to rest together
"""

from sim.contact.assembly import BASE, PANES, PLANE_NAMES, Assembly, Poses, assemble, friction_between, tank_planes
from sim.contact.distance import OVERLAP_M, Overlap, clearance, everything_else, overlaps
from sim.contact.finding import CONTACT_M, Contacts, Patches, chosen_contacts, find_contacts
from sim.contact.relaxing import Loaded, Relaxed, relax
from sim.contact.setting import Rest, Seated, bearing, set_down, spans_an_area

__all__ = [
    "Assembly",
    "BASE",
    "CONTACT_M",
    "Contacts",
    "Loaded",
    "OVERLAP_M",
    "Overlap",
    "PANES",
    "PLANE_NAMES",
    "Patches",
    "Poses",
    "Relaxed",
    "Rest",
    "Seated",
    "assemble",
    "bearing",
    "chosen_contacts",
    "clearance",
    "everything_else",
    "find_contacts",
    "friction_between",
    "overlaps",
    "relax",
    "set_down",
    "spans_an_area",
    "tank_planes",
]
