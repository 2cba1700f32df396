"""The facts of the printable setup sheet, JSON-ready; how they are set on paper is the page's business."""

from collections.abc import Mapping, Sequence
from math import degrees
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.job import Job
from engine.kernel.findings import Finding, Severity
from engine.outcome.header import clock
from engine.outcome.report import cautions, finding_facts
from engine.outcome.touch_off import TouchOff

__all__ = ["sheet_facts"]

PROFILE_POINTS = 121
INCH_MM = 25.4


def sheet_facts(
    job: Job,
    skin: Skin,
    *,
    blank: str,
    touch: TouchOff,
    times_s: Mapping[str, float],
    codes: Mapping[str, str],
    extent: Mapping[str, Sequence[float]],
    depth_mm: tuple[float, float],
    findings: Sequence[Finding],
    strokes: int,
) -> dict[str, Any]:
    """Everything a person needs at the machine.

    times_s, codes : by program kind (engrave, air, walk). depth_mm : least and greatest as simulated.
    """
    x = np.linspace(*skin.x_range_mm, PROFILE_POINTS)
    ring = np.linspace(0.0, 2.0 * np.pi, 73)[:-1]
    radii = skin.radius(x[:, None], ring[None, :])
    machine, tool = job.machine, job.tool
    asked = max((item.depth_mm for item in job.items), default=0.0)
    return {
        "job": job.name,
        "blank": blank,
        "material": job.blank.material,
        "wall": _both(job.blank.wall_mm),
        "profile": {
            "x_mm": x.round(3).tolist(),
            "least_r_mm": radii.min(axis=1).round(3).tolist(),
            "greatest_r_mm": radii.max(axis=1).round(3).tolist(),
        },
        "keep_out": [k.model_dump() for k in job.blank.keep_out],
        "art": [
            {
                "name": item.name,
                "x_mm": item.placement.x_mm,
                "angle_deg": item.placement.angle_deg,
                "style": type(item.style).__name__.lower(),
                "feed_mm_min": item.feed_mm_min,
                "plunge_mm_min": round(item.plunge_mm_min, 2),
                "depth": _both(item.depth_mm),
            }
            for item in job.items
        ],
        "extent": dict(extent),
        "tool": {
            "id": tool.id,
            "form": tool.form.value,
            "diameter_mm": tool.diameter_mm,
            "tip_mm": tool.tip_mm,
            "angle_deg": tool.angle_deg,
            "rpm": job.rpm,
        },
        "machine": {
            "name": machine.name,
            "letters": dict(zip(("axial", "rotary", "radial"), machine.letters, strict=True)),
            "feed_rule": machine.feed_rule.value,
            "z_zero": machine.z_zero.value,
            "clearance_mm": machine.clearance_mm,
            "approach_mm": machine.approach_mm,
        },
        "touch_off": touch.facts(),
        "depth": {"asked": _both(asked), "least": _both(depth_mm[0]), "greatest": _both(depth_mm[1])},
        "strokes": strokes,
        "times": {kind: clock(s) for kind, s in times_s.items()},
        "codes": dict(codes),
        "findings": [finding_facts(f) for f in findings if f.severity is not Severity.NOTE],
        "acknowledged": list(job.acknowledged),
        "turn": {"first_deg": extent["angle_deg"][0], "last_deg": extent["angle_deg"][1]},
        "cautions": cautions(),
    }


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


def extent_facts(x_mm: Any, theta_rad: Any, r_mm: Any) -> dict[str, list[float]]:
    """Least and greatest of each coordinate, mm and degrees; zeros where there is nothing."""
    if not len(x_mm):
        return {"x_mm": [0.0, 0.0], "angle_deg": [0.0, 0.0], "radius_mm": [0.0, 0.0]}
    return {
        "x_mm": [round(float(x_mm.min()), 4), round(float(x_mm.max()), 4)],
        "angle_deg": [round(degrees(float(theta_rad.min())), 4), round(degrees(float(theta_rad.max())), 4)],
        "radius_mm": [round(float(r_mm.min()), 4), round(float(r_mm.max()), 4)],
    }


def _both(length_mm: float | None) -> dict[str, float] | None:
    """A length in both units, or nothing where there is none."""
    if length_mm is None:
        return None
    return {"mm": round(length_mm, 4), "inch": round(length_mm / INCH_MM, 5)}
