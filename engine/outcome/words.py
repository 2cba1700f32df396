"""The plain words in which times, blanks and extents are told, in the header, the report and on the sheet."""

from collections.abc import Mapping, Sequence
from math import degrees

import numpy as np

from engine.blank import Skin
from engine.job import Job
from engine.kernel.arrays import Floats

__all__ = ["blank_words", "clock", "extent_facts", "span_words"]


def clock(seconds: float) -> str:
    """`1 h 02 min 03 s`, `2 min 03 s` or `3 s`."""
    whole = round(seconds)
    hours, minutes = whole // 3600, whole // 60 % 60
    tail = f"{whole % 60:02d} s" if whole >= 60 else f"{whole} s"
    if hours:
        return f"{hours} h {minutes:02d} min {tail}"
    return f"{minutes} min {tail}" if minutes else tail


def blank_words(job: Job, skin: Skin) -> str:
    """The blank in one line, for the header and the sheet."""
    low, high = skin.x_range_mm
    x = np.linspace(low, high, 61)
    greatest = 2.0 * float(skin.radius(x[:, None], np.linspace(0.0, 6.28, 25)[None, :]).max())
    material = f", {job.blank.material}" if job.blank.material else ""
    return f"{job.blank.shape}, {high - low:.6g} mm long, greatest diameter {greatest:.5g} mm{material}"


def span_words(extent: Mapping[str, Sequence[float]]) -> str:
    """What the program covers, in one line."""
    x, angle, r = extent["x_mm"], extent["angle_deg"], extent["radius_mm"]
    return f"x {x[0]:.3f} to {x[1]:.3f}, angle {angle[0]:.2f} to {angle[1]:.2f} deg, radius {r[0]:.3f} to {r[1]:.3f}"


def extent_facts(x_mm: Floats, theta_rad: Floats, r_mm: Floats) -> dict[str, list[float]]:
    """Least and greatest of each coordinate, mm and degrees; zeros where there is nothing."""
    if not len(x_mm):
        return {"x_mm": [0.0, 0.0], "angle_deg": [0.0, 0.0], "radius_mm": [0.0, 0.0]}
    return {
        "x_mm": [round(float(x_mm.min()), 4), round(float(x_mm.max()), 4)],
        "angle_deg": [round(degrees(float(theta_rad.min())), 4), round(degrees(float(theta_rad.max())), 4)],
        "radius_mm": [round(float(r_mm.min()), 4), round(float(r_mm.max()), 4)],
    }
