"""How far apart readings usually are, along and around: what knots, neighbours and gaps are counted in.

Readings on a grid, on stations or on lines along have spacings of their own in either direction; readings strewn about
share the skin evenly.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Readings

__all__ = ["LEAST_ANGLES", "LEAST_READINGS", "LEAST_STATIONS", "Spacing"]

LEAST_STATIONS = 4  # that carry a cubic
LEAST_ANGLES = 5  # the mean and two harmonics: an oval
LEAST_READINGS = 20  # as many stations at as many angles
WIDEST_RAD = np.pi  # readings from one side only say nothing about the other
SAME_MM = 0.05  # stations nearer than this are one: a carriage stops that well
SAME_RAD = np.radians(0.2)
APART = 4.0  # times that: further apart they are stations, nearer they are strewn
GRID_FILL = 4  # stations x angles no more than this times the readings: a grid, perhaps with missing cells


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacing:
    """along_mm, around_rad : usual distance between neighbours. lined : the readings stand at few angles."""

    along_mm: float
    around_rad: float
    lined: bool

    @staticmethod
    def of(readings: Readings) -> "Spacing":
        """The usual spacing; BlankError where the readings are too few, or all on one side, for a skin all around."""
        k = len(readings)
        stations = _distinct(np.sort(readings.x_mm), SAME_MM)
        turned = np.sort(np.mod(readings.theta_rad, TURN_RAD))
        angles = _distinct(turned, SAME_RAD)
        if len(angles) > 1 and angles[0] + TURN_RAD - angles[-1] <= SAME_RAD:
            angles = angles[:-1]
        if k < LEAST_READINGS or len(stations) < LEAST_STATIONS or len(angles) < LEAST_ANGLES:
            raise BlankError(
                f"{k} readings at {len(stations)} stations and {len(angles)} angles do not tell a skin all around",
                where="/readings",
                hint=f"at least {LEAST_READINGS} readings, {LEAST_STATIONS} stations and {LEAST_ANGLES} angles; fewer "
                "can still shift and tilt a shape that is known: join them to one",
            )
        widest = float(np.diff(np.append(angles, angles[0] + TURN_RAD)).max())
        if widest >= WIDEST_RAD:
            raise BlankError(
                f"over {np.degrees(widest):.0f} degrees around nothing was read",
                where="/readings",
                hint="take readings all around",
            )
        length = float(stations[-1] - stations[0])
        radius = float(np.median(readings.radius_mm))
        step = float(np.median(np.diff(stations)))
        turn = float(np.median(np.diff(np.append(angles, angles[0] + TURN_RAD))))
        if len(stations) * len(angles) <= GRID_FILL * k:
            return Spacing(along_mm=step, around_rad=turn, lined=True)
        if len(stations) <= k // 4 and step > APART * SAME_MM:
            return Spacing(along_mm=step, around_rad=TURN_RAD * len(stations) / k, lined=False)
        if len(angles) <= k // 4 and turn > APART * SAME_RAD:
            return Spacing(along_mm=length * len(angles) / k, around_rad=turn, lined=True)
        side = float(np.sqrt(length * TURN_RAD * radius / k))
        return Spacing(along_mm=side, around_rad=side / radius, lined=False)

    @property
    def angles(self) -> int:
        """How many angles a turn that is."""
        return round(TURN_RAD / self.around_rad)

    @property
    def box(self) -> Floats:
        """(2,) where places repeat: never along, once a turn around."""
        return np.array([0.0, TURN_RAD / self.around_rad])

    def places(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(k, 2) places in usual spacings, along and around."""
        around = np.mod(theta_rad, TURN_RAD) / self.around_rad
        return np.stack([x_mm / self.along_mm, np.where(around < self.box[1], around, 0.0)], axis=1)

    def distance(
        self, readings: Readings, x_mm: Floats, theta_rad: Floats, *, counts: tuple[float, float] = (1.0, 1.0)
    ) -> Floats:
        """(m, n) usual spacings from each place of a grid to the nearest reading, a spacing along and one around
        counting so much.
        """
        each = np.array(counts)
        tree = cKDTree(self.places(readings.x_mm, readings.theta_rad) * each, boxsize=self.box * each)
        x, theta = np.broadcast_arrays(x_mm[:, None], theta_rad[None, :])
        return np.asarray(tree.query(self.places(x.ravel(), theta.ravel()) * each)[0]).reshape(x.shape)


def _distinct(rising: Floats, same: float) -> Floats:
    """The first of each run of values within `same` of it."""
    at, first = 0, []
    while at < len(rising):
        first.append(rising[at])
        at = int(np.searchsorted(rising, rising[at] + same, side="right"))
    return np.array(first)
