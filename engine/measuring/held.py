"""A blank that is held: how it moved, in figures, the job that moves with it, and whether a correction is believed."""

from collections.abc import Mapping
from dataclasses import replace
from math import hypot
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.job import BlankShape
from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.measure import Measured
from engine.measure.chucking import Motion, Registered, moved_place

__all__ = ["judged", "motion_facts", "moved_job"]

DUST = 0.1  # share of touches: more that do not fit are the shape's fault; no source
LEAST_MM = 0.05  # half of what an engraving's depth is asked to within: less is not spoken of
INVENTED = 2.0  # times what the touches stand off the base: a runout that they do show adds no more over the whole skin


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
        if "placement" not in item:  # a frame lies where its piece lies
            artwork.append(item)
            continue
        place = dict(item["placement"])
        x, angle = moved_place(skin, motion, float(place["x_mm"]), float(place.get("angle_deg", 0.0)))
        artwork.append({**item, "placement": place | {"x_mm": round(x, 4), "angle_deg": round(angle, 4)}})
    return {**job, "blank": {**blank, **kept}, "artwork": artwork}


def judged(measured: Measured, base: Skin) -> Measured:
    """A base shape corrected by touches, its error no less than what they show of a base that is another shape.

    `base-does-not-fit` where more were left out than dust explains: the distances of all are error. `correction-unseen`
    where the skin strays much further from the base than the touches stand off it: that is error too.
    """
    readings, used, off = measured.readings, measured.used, measured.residual_mm
    if readings is None or used is None or off is None:
        return measured
    upon = (readings.x_mm >= base.x_range_mm[0]) & (readings.x_mm <= base.x_range_mm[1])
    x, theta, r = readings.x_mm[upon], readings.theta_rad[upon], readings.radius_mm[upon]
    stood = _rms(r - base.radius(x, theta))
    grown = _rms(measured.radius_mm - base.radius(measured.x_mm[:, None], measured.theta_rad))
    wild, stray = int((~used[upon]).sum()), _rms(off[upon])
    told = list(measured.findings)
    sigma = measured.sigma_mm
    if wild > DUST * len(x):
        told = [finding for finding in told if finding.code != "base-does-not-fit"]
        text = f"{wild} of {len(x)} touches lie off the base shape, too many to be dust: it is another shape than the "
        text += f"blank, or lies elsewhere along it; all of them stray by {stray:.2f} mm rms, which is in the error"
        told.append(_doubt("base-does-not-fit", text))
        sigma = np.hypot(sigma, stray)
    if grown > INVENTED * max(stood, base.sigma_mm, LEAST_MM):
        text = f"the corrected skin strays from the base shape by {grown:.2f} mm rms where the touches stand "
        text += f"{stood:.2f} mm off it: what lies between them was not seen, and is in the error"
        told.append(_doubt("correction-unseen", text))
        sigma = np.hypot(sigma, grown)
    return replace(measured, sigma_mm=sigma, findings=tuple(told))


def _doubt(code: str, message: str) -> Finding:
    advice = "measure the base at more stations and check where its x = 0 lies, or touch a whole grid of points"
    return Finding(severity=Severity.WARNING, code=code, message=message, advice=advice, where=Where(pointer="/blank"))


def _rms(values: Floats) -> float:
    return float(np.sqrt((values**2).mean())) if values.size else 0.0
