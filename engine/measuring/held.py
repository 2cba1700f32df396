"""The same blank held otherwise: found again after it was put back, and the job that moves with it."""

from collections.abc import Mapping
from math import hypot
from typing import Any

import numpy as np

from engine.blank import Skin, sigma_at
from engine.kernel.arrays import Floats
from engine.measure import Measured, Readings, even_angles
from engine.measure.chucking import Motion, Registered, moved_place, moved_skin

__all__ = ["as_it_stands", "motion_facts", "moved_job"]

STATIONS_MM, ANGLES = 1.0, 180
MOST_STATIONS = 500


def as_it_stands(skin: Skin, found: Registered, readings: Readings) -> Measured:
    """The stored skin as it stands now; its own sigma, and what the motion may still be off by, place by place."""
    low, high = skin.x_range_mm
    x = np.linspace(low, high, int(np.clip(round((high - low) / STATIONS_MM) + 1, 5, MOST_STATIONS)))
    x = x + found.motion.shift_mm
    theta = even_angles(ANGLES)
    radius, known = moved_skin(skin, found.motion, x, theta)
    stored = sigma_at(skin, x[:, None] - found.motion.shift_mm, theta[None, :] - found.motion.turn_rad)
    sigma = np.hypot(stored, _of_the_motion(radius, x, theta, found))
    return Measured(
        x_mm=x,
        radius_mm=np.maximum(radius, 1e-3),
        sigma_mm=np.where(known, sigma, np.maximum(sigma, 0.5)),
        known=known,
        findings=found.findings,
        how=found.how,
        readings=readings,
        residual_mm=found.residual_mm,
        used=found.used,
    )


def _of_the_motion(radius: Floats, x: Floats, theta: Floats, found: Registered) -> Floats:
    """(m, n) what shift, turn, tilt and offset may be off by, as it shows along the radius."""
    along, around = np.gradient(radius, x, axis=0), _slope_around(radius)
    arm = (x - x.mean())[:, None]
    cos, sin = np.cos(theta)[None, :], np.sin(theta)[None, :]
    far = radius * along + arm
    columns = np.stack([along, around, -far * sin, far * cos, cos + 0 * arm, sin + 0 * arm], axis=-1)
    return np.asarray(np.sqrt(np.maximum(np.einsum("mni,ij,mnj->mn", columns, found.covariance, columns), 0.0)))


def _slope_around(radius: Floats) -> Floats:
    n = radius.shape[1]
    return np.asarray((np.roll(radius, -1, axis=1) - np.roll(radius, 1, axis=1)) * (n / (4.0 * np.pi)))


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
    kept = {k: v for k, v in dict(job["blank"]).items() if k in ("material", "wall_mm", "wall_min_mm", "keep_out")}
    artwork = []
    for item in job.get("artwork", []):
        place = dict(item["placement"])
        x, angle = moved_place(skin, motion, float(place["x_mm"]), float(place.get("angle_deg", 0.0)))
        artwork.append({**item, "placement": place | {"x_mm": round(x, 4), "angle_deg": round(angle, 4)}})
    return {**job, "blank": {**blank, **kept}, "artwork": artwork}
