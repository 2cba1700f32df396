"""The four uniform cubic B-splines that meet in a cell, and their slopes, at a share u of it, for compiled loops.

Source: C. de Boor, A Practical Guide to Splines, chapter IX, with knots one apart.
"""

from engine.kernel.compiled import compiled

__all__ = ["cubic_slopes", "six_cubic"]

_Four = tuple[float, float, float, float]


@compiled
def six_cubic(u: float) -> _Four:
    """Six times their values: who sums them divides once."""
    p = 1.0 - u
    return p * p * p, 4.0 - 6.0 * u * u + 3.0 * u * u * u, 4.0 - 6.0 * p * p + 3.0 * p * p * p, u * u * u


@compiled
def cubic_slopes(u: float) -> _Four:
    """Their slopes, a cell being one long."""
    p = 1.0 - u
    return -0.5 * p * p, (1.5 * u - 2.0) * u, (2.0 - 1.5 * p) * p, 0.5 * u * u
