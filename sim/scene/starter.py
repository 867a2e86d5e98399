"""The commented scene that `bedjoint new` writes."""

from __future__ import annotations

from sim.scene.document import written

_TEXT = """\
# {title}: a scene for bedjoint. Lines that begin with # are notes, or examples to uncomment.
#
# Lengths are mm, masses kg, angles degrees. The origin is the inner front-left-bottom corner of
# the tank: x runs to the right along the front pane, y to the back, z up from the base glass.
# What a key may say: bedjoint schema. What the tables know: bedjoint materials.

format = 1
title = {title_written}

[tank]
inner_mm = {inner}        # inner length, depth, height
base_mm = 10                       # thickness of the base glass: MEASURE IT
side_mm = 10                       # thickness of the other panes: MEASURE IT
glass = {glass}                  # annealed | toughened | unknown (judged as annealed)
support = "unknown"                # rim | mat | unknown (judged as rim, the harder case)
# mat = {{ material = "EPS22", thickness_mm = 10 }}        # with support = "mat"
# brace_mm = 50                    # width of the braces round the rim; or, instead of it:
# opening_mm = [{opening_x}, {opening_y}]          # length and depth of the way in
# stand = {{ feet_mm = [[0, 0], [{x}, 0], [0, {y}], [{x}, {y}]], floor = "timber", height_mm = 750 }}
# film = ["back"]                  # panes with film or paint behind: left, right, back
# under_stones = {{ kind = "sheet", thickness_mm = 5 }}    # grid | sheet | none between stones and glass

[water]
level_mm = {level}                     # when full; 0 stays dry
temperature_c = 24
salinity_ppt = 0

[camera]
position_mm = [{middle_x}, -{distance}, {eye}]     # the lens; y is negative in front of the tank
look_at_mm = [{middle_x}, {middle_y}, {aim}]
focal_mm = 35
sensor_mm = [36, 24]               # full frame
# aperture = 8
# focus_mm = {distance}                  # distance that is sharp; by default the look-at point
# crop = "16:9"                    # sensor | 3:2 | 4:3 | 16:9 | 1:1

# --- Pieces -------------------------------------------------------------------------------------
# One [[piece]] per stone or wood. at_mm: x and y of the middle of its bounding box once turned,
# z of its lowest point. turn_deg: about the fixed axes x, then y, then z.
# This one is a stand-in from calipers and scales: replace it by your own.

[[piece]]
id = "first_stone"
stand_in = {{ size_mm = [{stone_x}, {stone_y}, {stone_z}], mass_kg = {stone_kg}, habit = "slab", seed = 1 }}
rock = "limestone"
at_mm = [{middle_x}, {middle_y}, 0]
turn_deg = [0, 0, 0]

# [[piece]]                        # a scan
# id = "ledge_1"
# mesh = "meshes/ledge_1.ply"      # from this file's folder: stl, ply, obj, glb, gltf, 3mf
# units = "mm"                     # mm | cm | m | in
# scale = 1.0
# rock = "slate"                   # or wood = "..."; or density_kg_m3 = 2700
# mass_kg = 1.84                   # from the scales; with mass_in_water_kg = 1.16 the mesh's volume is checked
# at_mm = [{middle_x}, {middle_y}, 40]
# quaternion = [1, 0, 0, 0]        # instead of turn_deg
# fixed = false                    # true: an immovable support
# friction = 0.5                   # instead of the table's

# [[piece]]                        # out of a generator, to try things
# id = "try_out"
# generate = {{ shape = "cobble", seed = 7, size_mm = [80, 60, 40] }}   # slab block cobble shard lintel root
# rock = "granite"
# at_mm = [{middle_x}, {middle_y}, 80]

# --- Joints and order ---------------------------------------------------------------------------

# [[joint]]
# between = ["first_stone", "ledge_1"]
# glue = "epoxy putty"
# kind = "glue"                    # or "tie" or "screw" for wood, with capacity_n and without glue

# [[module]]                       # pieces glued outside the tank and lifted in as one
# id = "crown"
# pieces = ["ledge_1", "try_out"]

# [[rule]]                         # your own wishes about the order
# before = ["first_stone", "crown"]        # the first is set before the second; or after = [...]

# [[friction]]                     # two pieces, or two materials
# between = ["limestone", "slate"]
# dry = 0.45
# wet = 0.35

# --- Ground, background, photos ------------------------------------------------------------------

# [ground]
# layers = [{{ material = "sand", front_mm = 20, back_mm = 60 }}]      # from the base upward

# [background]
# top = "#dfeaf0"                  # colours of the sheet behind the tank, or image = "sheet.jpg"
# bottom = "#f7f9f8"
# light = 0.5                      # lit from behind, 0 to 1

# [photo]
# matched = "empty_tank.jpg"       # the photo that the camera was matched to
# concept = "sketch.png"           # a picture to lay over the shot
# opacity = 0.5

# --- Money and judges ----------------------------------------------------------------------------

# [prices]
# currency = "EUR"
# per_kg = {{ limestone = 3.5, slate = 4 }}
# packs = {{ "epoxy putty" = {{ price = 12, g = 114 }} }}

# [budget]
# total = 250

# [check]                          # the defaults suit nearly everyone
# seed = 1
# tilt_wanted_deg = 15             # no piece may move against its neighbours below this tilt
# copies = 4                       # slightly shifted copies for the robust margin
# trials = 5                       # repeats of the dynamic trial

# [expect]                         # only in example scenes: what the check should say
# verdict = "stands"
"""


def starter(title: str, inner_mm: tuple[float, float, float], glass: str = "unknown") -> str:
    """A scene file that is valid as it is and shows every section, the optional ones commented out.

    Parameters
    ----------
    title : str
    inner_mm : inner length, depth and height of the tank, mm
    glass : a row of the table of glasses
    """
    x, y, z = inner_mm
    stone = [max(8, round(side * share)) for side, share in zip(inner_mm, (0.2, 0.25, 0.08), strict=True)]
    # a slab fills about three quarters of its box; 2500 kg/m3 is a middling limestone
    stone_kg = round(stone[0] * stone[1] * stone[2] * 0.75 * 2.5e-6, 3)
    return _TEXT.format(
        title=" ".join(title.split()) or "scene",
        title_written=written(title),
        glass=written(glass),
        inner=written(list(inner_mm)),
        x=written(x),
        y=written(y),
        opening_x=written(round(x * 0.9)),
        opening_y=written(round(y * 0.8)),
        level=written(round(z * 0.9)),
        middle_x=written(round(x / 2)),
        middle_y=written(round(y / 2)),
        distance=written(round(x * 4 / 3)),
        eye=written(round(z * 0.58)),
        aim=written(round(z * 0.45)),
        stone_x=stone[0],
        stone_y=stone[1],
        stone_z=stone[2],
        stone_kg=written(stone_kg),
    )
