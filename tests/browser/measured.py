"""Answers of the measuring routes, made up for the page: a lobed gourd, its readings, what was found."""

from types import SimpleNamespace

import numpy as np


def _radius(x_mm, theta_rad):
    """(broadcast) radius of the gourd, mm."""
    waist = 24 + 9 * np.sin(np.asarray(x_mm) / 28.0) + 0.06 * np.asarray(x_mm)
    return waist + 0.35 * np.cos(5 * theta_rad + x_mm / 20) + 0.5 * np.cos(theta_rad - 1.1)


answer = SimpleNamespace(radius=_radius)


def lobed(*, stations=61, angles=90, readings=0, wild=0, unseen=None, runout=None, sigma_mm=0.03):
    """An answer on an even grid; `runout` (mm, degrees): a round bar off its centre instead of the gourd."""
    rng = np.random.default_rng(7)
    x = np.linspace(4.0, 96.0, stations)
    degrees = np.arange(angles) * 360.0 / angles
    at = np.broadcast_arrays(x[:, None], np.radians(degrees)[None, :])
    radius = _radius(*at) if runout is None else 25 + runout[0] * np.cos(at[1] - np.radians(runout[1]))
    sigma = sigma_mm * (1 + 0.5 * np.cos(at[0] / 15))
    seen = np.ones(radius.shape, int)
    if unseen is not None:
        seen[np.vectorize(unseen)(at[0], np.degrees(at[1]).round(6))] = 0
        sigma = np.where(seen == 1, sigma, 6 * sigma)
    first = 2 * (radius * np.exp(-1j * at[1])).mean(axis=1)
    k = (rng.uniform(4, 96, readings), rng.uniform(0, 360, readings), rng.normal(0, sigma_mm, readings))
    residual = np.array(k[2])
    residual[:wild] += 2.0
    return {
        "blank": {"shape": "grid", "asset": "0" * 64, "radius_error_mm": sigma_mm},
        "sigma_mm": sigma_mm,
        "findings": [
            {
                "severity": "warning", "code": "flat-or-hollow", "message": "The skin may be flat or hollow near x 40.",
                "advice": "Check it there with callipers.", "where": {"x_mm": 40.0, "angle_deg": 90.0, "pointer": None},
            },
            {"severity": "note", "code": "runout", "message": "The blank runs out by 0.5 mm.", "where": {}},
        ],
        "how": [["smoothing", "chosen by leaving stations out: 0.02"], ["axis line moved", "2.3 px"]],
        "skin": {
            "x_mm": x.tolist(), "angle_deg": degrees.tolist(), "radius_mm": radius.tolist(), "sigma_mm": sigma.tolist(),
            "known": seen.tolist(), "runout_mm": np.abs(first).tolist(),
            "runout_deg": np.degrees(-np.angle(first)).tolist(),
        },
        "readings": {
            "x_mm": k[0].tolist(), "angle_deg": k[1].tolist(),
            "radius_mm": (_radius(k[0], np.radians(k[1])) + residual).tolist(), "residual_mm": residual.tolist(),
            "state": ["left out"] * wild + ["used"] * (readings - wild),
        },
    }  # fmt: skip
