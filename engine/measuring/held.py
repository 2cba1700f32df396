"""A blank that was put back: how it moved, in figures, and the job that moves with it."""

from collections.abc import Mapping
from math import hypot
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.job import BlankShape
from engine.measure.chucking import Motion, Registered, moved_place

__all__ = ["motion_facts", "moved_job"]


def motion_facts(found: Registered) -> dict[str, Any]:
    """Shift, turn and tilt JSON-ready; null where the touches cannot tell."""
    m = found.motion
    tilt = float(np.degrees(hypot(m.tilt_y_rad, m.tilt_z_rad)))
    return {
        "shift_mm": round(m.shift_mm, 4) if found.shift_known else None,
        "turn_deg": round(float(np.degrees(m.turn_rad)), 4) if found.turn_known else None,
        "tilt_deg": round(tilt, 4),
        "offset_mm": [round(m.offset_y_mm, 4), round(m.offset_z_mm, 4)],
        "turns_deg": [round(turn, 3) for turn in found.turns_deg],
        "shift_sigma_mm": round(found.shift_sigma_mm, 4),
        "turn_sigma_deg": round(found.turn_sigma_deg, 4),
        "tilt_sigma_deg": round(found.tilt_sigma_deg, 4),
    }


def moved_job(job: Mapping[str, Any], blank: Mapping[str, Any], skin: Skin, motion: Motion) -> dict[str, Any]:
    """The job's document with its art on the same spots of the blank as it now stands.

    What stands on the machine stays where it is: keep-outs, and the machine's own touch-off.
    """
    kept = {name: value for name, value in dict(job["blank"]).items() if name in BlankShape.model_fields}
    artwork = []
    for item in job.get("artwork", []):
        place = dict(item["placement"])
        x, angle = moved_place(skin, motion, float(place["x_mm"]), float(place.get("angle_deg", 0.0)))
        artwork.append({**item, "placement": place | {"x_mm": round(x, 4), "angle_deg": round(angle, 4)}})
    return {**job, "blank": {**blank, **kept}, "artwork": artwork}
