"""Between a job's blank and what the ways of measuring work on: skins as grids, and a blank as a guess."""

from collections.abc import Mapping

import numpy as np

from engine.blank import SURE, Skin, sigma_at
from engine.job import BlankDocument, BlankShape
from engine.kernel.errors import EngineError
from engine.kernel.values import KeepOut
from engine.measure import Measured, even_angles
from engine.program import Guess

__all__ = ["guess_of", "keep_outs", "measured_of", "skin_at"]

STEP_MM, MOST_STATIONS = 1.0, 500  # finer than a hand-measured skin has features
ANGLES = 180  # every 2 degrees: with MOST_STATIONS still a table that a job takes
GUESS_STATIONS, GUESS_ANGLES = 257, 72  # fine enough to drive over; what lies between is in the doubt
LEAST_MM = 1e-3  # of radius: a pole is an end


def measured_of(skin: Skin) -> Measured:
    """A skin on an even grid, as if it had been measured there."""
    low, high = skin.x_range_mm
    x = np.linspace(low, high, int(np.clip(round((high - low) / STEP_MM) + 1, 5, MOST_STATIONS)))
    theta = even_angles(ANGLES)
    shape = (len(x), ANGLES)
    radius = np.broadcast_to(skin.radius(x[:, None], theta[None, :]), shape)
    return Measured(
        x_mm=x,
        radius_mm=np.maximum(radius, LEAST_MM),
        sigma_mm=np.broadcast_to(sigma_at(skin, x[:, None], theta[None, :]), shape),
        known=np.ones(shape, np.bool_),
    )


def skin_at(field: str, blank: BlankDocument, assets: Mapping[str, bytes]) -> Skin:
    """The skin of a blank that a document holds in `field`; EngineError with the place below it."""
    try:
        return blank.skin(assets)
    except EngineError as exc:
        exc.where = f"/{field}{exc.where.removeprefix('/blank')}"
        raise


def guess_of(skin: Skin, doubt_mm: float) -> Guess:
    """What a probe may expect: the skin as it is described, and at least its own doubt over it."""
    x = np.linspace(*skin.x_range_mm, GUESS_STATIONS)
    theta = even_angles(GUESS_ANGLES)
    radius = np.broadcast_to(skin.radius(x[:, None], theta[None, :]), (GUESS_STATIONS, GUESS_ANGLES))
    worst = float(sigma_at(skin, x[:, None], theta[None, :]).max())
    return Guess(x_mm=x, radius_mm=radius, doubt_mm=max(doubt_mm, SURE * worst))


def keep_outs(blank: BlankShape) -> tuple[KeepOut, ...]:
    """Where hardware stands."""
    return tuple(KeepOut(from_mm=k.from_mm, to_mm=k.to_mm, why=k.why, radius_mm=k.radius_mm) for k in blank.keep_out)
