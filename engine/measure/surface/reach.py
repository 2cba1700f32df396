"""Far from every reading: how unsure a skin is there at the least, and what too few angles a turn cannot show.

Smoothness learnt where readings are close says too little about a wide gap, so its error is no less than a share of the
distance to the nearest reading.
"""

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Readings

__all__ = ["TELLING_MM", "few_angles", "least_sigma"]

STRAYS = 0.05  # mm a mm from the nearest reading: lobes of 1 mm on a radius of 25 mm; no source
TELLING_MM = 0.1  # an engraving's depth is asked to within less
FEWEST_ANGLES = 12  # lobes of up to six a turn are seen


def least_sigma(readings: Readings, used: Bools, x_mm: Floats, theta_rad: Floats, gap: Bools) -> Floats:
    """(m, n) STRAYS of the distance in mm to the nearest used reading at places of a grid in a gap, 0 elsewhere.

    gap : (m, n). Around, the distance is along a circle of the readings' usual radius.
    """
    least = np.zeros(gap.shape)
    if not gap.any() or not used.any():
        return least
    radius = float(np.median(readings.radius_mm[used]))
    turn = TURN_RAD * radius

    def unrolled(x: Floats, theta: Floats) -> Floats:
        around = np.mod(theta, TURN_RAD) * radius
        return np.stack([x, np.where(around < turn, around, 0.0)], axis=1)

    tree = cKDTree(unrolled(readings.x_mm[used], readings.theta_rad[used]), boxsize=np.array([0.0, turn]))
    row, column = np.nonzero(gap)
    least[row, column] = STRAYS * np.asarray(tree.query(unrolled(x_mm[row], theta_rad[column]))[0])
    return least


def few_angles(angles: int) -> tuple[Finding, ...]:
    """The finding `few-angles`, where the readings stand at fewer angles a turn than show usual lobes."""
    if angles >= FEWEST_ANGLES:
        return ()
    return (
        Finding(
            severity=Severity.WARNING,
            code="few-angles",
            message=f"at {angles} angles a turn lobes of more than {angles // 2} a turn are not seen; the "
            "error holds what usual ones may be",
            advice=f"touch at more angles: at least {FEWEST_ANGLES} a turn",
        ),
    )
