"""A measured skin as the other stages take it."""

from engine.blank import Sampled, Spread
from engine.measure import Measured

__all__ = ["surface_of"]


def surface_of(measured: Measured, sigma_mm: float | None) -> Sampled:
    """The skin through the grid. sigma_mm : one for all of it, None as measured place by place."""
    ends = float(measured.x_mm[0]), float(measured.x_mm[-1])
    spread = Spread(x0_mm=ends[0], x1_mm=ends[1], sigma_mm=measured.sigma_mm) if sigma_mm is None else None
    return Sampled.of(measured.radius_mm, *ends, sigma_mm=sigma_mm or 0.0, spread=spread)
