"""A probe with a ball over a known skin, and a controller that logs it: nothing here knows how the routes work.

The ball's centre over a place is the least height at which no point of a fine patch of the skin is nearer than the
ball's radius: brute force.
"""

import numpy as np

from engine.machine import Profile
from tests.measure.chucking.bodies import Gourd
from tests.measure.probing.logs import written
from tests.program.controller import run
from tests.program.paths import on_blank

__all__ = ["BALL", "GOURD", "GUESS", "centre_mm", "log_of"]

BALL = 1.0
GOURD = Gourd()
GUESS = {  # what a person reads with callipers before probing
    "shape": "stations",
    "stations": [
        {"x_mm": x, "diameter_mm": round(2 * (27 + 8 * float(np.sin(x / 27 - 0.8))), 1)} for x in range(5, 116, 10)
    ],
    "radius_error_mm": 1.5,
}
_PATCH = np.linspace(-1, 1, 61) * BALL


def centre_mm(body, x_mm, theta_rad, ball_mm=BALL):
    """Radius of the ball's centre where it rests on `body` over a place."""
    about = float(body.radius(np.array([x_mm]), np.array([theta_rad]))[0])
    x, theta = x_mm + _PATCH[:, None], theta_rad + _PATCH[None, :] / about
    r = body.radius(x, theta)
    beside = (x - x_mm) ** 2 + (r * np.sin(theta - theta_rad)) ** 2
    under = ball_mm**2 - beside
    height = np.where(under >= 0, r * np.cos(theta - theta_rad) + np.sqrt(np.maximum(under, 0)), -np.inf)
    return float(height.max())


def log_of(program, body=GOURD, *, noise_mm=0.0, wild=(), seed=0, form="bracketed", motion=None):
    """The log of a controller that ran `program` over `body`; wild : touches that trip half a mm early, by number."""
    rng, profile, count = np.random.default_rng(seed), Profile(), iter(range(100_000))

    def trips(place):
        x, angle, _ = on_blank(place, profile, 0.0)
        k = next(count)
        return (
            centre_mm(body, x, np.radians(angle))
            - BALL
            + rng.normal(0, noise_mm)
            + (0.5 + 0.1 * k % 3 if k in wild else 0)
        )

    ran = run(program.encode(), profile.letters, trips)
    return written(form, ran.touches, profile, seed=seed)
