"""Documents for the tests of the job: the least one that works, a full one, and what the shop knows."""

from copy import deepcopy

from engine.job import Known

PICTURE, DRAWING, TABLE = "a" * 64, "b" * 64, "c" * 64
KNOWN = Known(
    assets={PICTURE: "raster", DRAWING: "vector", TABLE: "table"},
    tools={"ball-1": {"form": "ball", "diameter_mm": 1.0}},
    machines={
        "bench": {
            "name": "Bench by the window",
            "axes": {"axial": {"rapid_mm_min": 900, "max_mm": 200}, "rotary": {"reversed": True}},
            "feed_rule": "all-axes",
            "header": ["G54", "M8"],
        }
    },
)

# The least job that works: scripts rely on every letter of it but the asset's id.
LEAST = {
    "schema": "roundwright.job/1",
    "name": "Seed-swap float 12",
    "blank": {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90},
    "artwork": [
        {
            "asset": DRAWING,
            "placement": {"x_mm": 45, "angle_deg": 0, "width_mm": 30},
            "marking": {"style": "hatch", "pitch_mm": 0.3},
            "depth_mm": 0.2,
        }
    ],
}

FULL = {
    "schema": "roundwright.job/1",
    "name": "Gourd of the marrow bed",
    "blank": {
        "shape": "stations",
        "stations": [{"x_mm": x, "diameter_mm": d} for x, d in ((0, 30), (40, 66.5), (90, 28))],
        "material": "dried gourd",
        "wall_mm": 4,
        "keep_out": [{"from_mm": -20, "to_mm": 5, "why": "chuck"}],
        "radius_error_mm": 0.2,
    },
    "artwork": [
        {
            "asset": PICTURE,
            "name": "marrow",
            "placement": {
                "x_mm": 45, "angle_deg": -90, "width_mm": 30, "height_mm": 22.5, "mirror": True, "turn_deg": 15,
                "projection": "conformal",
            },
            "tone": {"threshold": 96, "invert": True, "contrast": 0.2, "gamma": 1.4},
            "marking": {"style": "outline"},
            "tool": "ball-1",
            "depth_mm": 0.4,
            "passes": 2,
            "step_mm": 0.2,
            "feed_mm_min": 300,
            "plunge_mm_min": 80,
            "rpm": 9000,
            "direction": "any",
            "level_mm": 0.05,
        },
        {
            "asset": DRAWING,
            "placement": {"x_mm": 60},
            "marking": {"style": "hatch", "pitch_mm": 0.4, "angle_deg": 30, "outline": True, "inset_mm": 0.1},
            "tool": "ball-1",
            "depth_mm": 0.2,
        },
    ],
    "tools": [{"id": "ball-1", "form": "ball", "diameter_mm": 0.8, "flutes": 2, "rpm_max": 8000, "name": "small ball",
               "stick_out_mm": 18, "shank_mm": 3.175, "flute_mm": 2.5}],
    "machine": {
        "profile": "bench",
        "name": "Bench, gourd jaws",
        "axes": {
            "axial": {"letter": "Y", "reversed": True, "min_mm": -5, "max_mm": 250, "backlash_mm": 0.05},
            "rotary": {"letter": "B", "min_deg": None, "rapid_deg_min": 2000, "mm_per_turn": 100},
        },
        "rotary_unit": "mm-per-turn",
        "z_zero": "surface",
        "touch_off": {"x_mm": 45},
        "clearance_mm": 3,
        "approach_mm": 0.5,
        "park": {"x_mm": 0, "angle_deg": 0, "lift_mm": 20},
        "decimals": 3,
        "footer": ["M9"],
        "dwell_s": 4,
        "spindle": {"collet_mm": 11, "collet_length_mm": 14, "nose_mm": None},
        "axis_error_mm": 0.05,
    },
    "acknowledged": ["chip-load"],
}  # fmt: skip

OVOID = {"shape": "ovoid", "length_mm": 57, "breadth_mm": 44, "shift_mm": 2, "quarter_diameter_mm": 36.5}
TWO = {"shape": "stations", "stations": [{"x_mm": 0, "diameter_mm": 30}, {"x_mm": 50, "diameter_mm": 40}]}


def put(document, place, value):
    """A copy of `document` with `value` at a pointer; `...` as the value takes the entry out."""
    copy = deepcopy(document)
    *way, last = place.split("/")[1:]
    here = copy
    for part in way:
        here = here[int(part)] if isinstance(here, list) else here[part]
    if isinstance(here, list):
        last = int(last)
    if value is ...:
        del here[last]
    else:
        here[last] = value
    return copy
