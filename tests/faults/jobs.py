"""Good jobs by seed, good by construction: small art well inside gentle blanks, on machines of every kind.

Made up, for the fair. No shared code with the proof.
"""

import random

import engine
from tests.blank.skins import gourd_csv

__all__ = ["ASSETS", "KNOWN", "job_of"]

LEAF = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48">
<path d="M24 4 C34 10 40 20 38 32 C32 42 18 42 10 32 C8 20 14 10 24 4 Z M24 16 L20 30 L30 28 Z"
fill-rule="evenodd"/></svg>"""
VINE = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48">
<g fill="none" stroke="black"><path d="M8 8 L40 38 M10 38 C20 6 30 42 40 10"/>
<circle cx="24" cy="24" r="13"/></g></svg>"""
ASSETS = {"leaf": LEAF, "vine": VINE, "table": gourd_csv()}
KNOWN = engine.Known(assets={"leaf": "vector", "vine": "vector", "table": "table"})
BLANKS = (
    ({"shape": "cylinder", "diameter_mm": 40, "length_mm": 90}, (30, 60)),
    ({"shape": "cylinder", "diameter_mm": 90, "length_mm": 90}, (30, 60)),
    ({"shape": "cone", "diameter_mm": 36, "end_diameter_mm": 50, "length_mm": 80}, (30, 50)),
    (
        {"shape": "ovoid", "length_mm": 64, "breadth_mm": 46, "shift_mm": 2, "quarter_diameter_mm": 38.5},
        (26, 36),
    ),
    (
        {
            "shape": "stations",
            "stations": [{"x_mm": x, "diameter_mm": d} for x, d in ((0, 40), (30, 62), (60, 70), (90, 58), (110, 40))],
        },
        (45, 70),
    ),
    ({"shape": "grid", "asset": "table"}, (55, 75)),
)
TOOLS = (
    {"form": "cone", "diameter_mm": 3.175, "tip_mm": 0.1, "angle_deg": 60},
    {"form": "cone", "diameter_mm": 3.175, "tip_mm": 0.2, "angle_deg": 30},
    {"form": "ball", "diameter_mm": 0.6},
)


def job_of(seed: int) -> tuple[engine.Job, dict[str, object]]:
    """The job of a seed, and its document."""
    rng = random.Random(seed)
    blank, (low, high) = rng.choice(BLANKS)
    blank = {**blank, "radius_error_mm": 0}
    if rng.random() < 0.4:
        jaws = {"from_mm": -20, "to_mm": 3, "why": "jaws"}
        blank["keep_out"] = [jaws | ({"radius_mm": 30} if rng.random() < 0.5 else {})]
    asset = rng.choice(["leaf", "vine"])
    marking = {"style": "outline"} if asset == "vine" or rng.random() < 0.3 else {"style": "hatch", "pitch_mm": 0.4}
    art = {
        "asset": asset,
        "placement": {
            "x_mm": round(rng.uniform(low, high), 2),
            "angle_deg": rng.choice([0, 90, 178, -300, round(rng.uniform(-180, 180), 1)]),
            "width_mm": rng.choice([6, 9, 12]),
            "turn_deg": rng.choice([0, 20, 90]),
        },
        "marking": marking,
        "depth_mm": rng.choice([0.1, 0.2, 0.3]),
        "direction": rng.choice(["uphill", "any"]),
        "feed_mm_min": rng.choice([120, 240]),
        "tool": "t",
    }
    if rng.random() < 0.2:
        art["step_mm"] = 0.1
    axes: dict[str, dict[str, object]] = {"axial": {}, "radial": {}, "rotary": {}}
    for name, axis in axes.items():
        if rng.random() < 0.25:
            axis["reversed"] = True
        if rng.random() < 0.15 and name != "radial":
            axis["backlash_deg" if name == "rotary" else "backlash_mm"] = 0.1
    machine: dict[str, object] = {
        "feed_rule": rng.choice(["inverse-time", "linear-axes-only", "all-axes"]),
        "decimals": rng.choice([3, 4, 5]),
        "z_zero": rng.choice(["axis", "axis", "surface"]),
        "axes": axes,
    }
    if rng.random() < 0.15:
        machine["rotary_unit"] = "mm-per-turn"
        axes["rotary"]["mm_per_turn"] = 100
    document: dict[str, object] = {
        "schema": "roundwright.job/1",
        "name": f"Swap {seed}",
        "blank": blank,
        "artwork": [art],
        "tools": [{"id": "t", **rng.choice(TOOLS)}],
        "machine": machine,
    }
    return engine.read_job(document, known=KNOWN), document
