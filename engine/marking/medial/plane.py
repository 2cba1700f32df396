"""Planes that the sheet is drawn out to as the skin is under it on the mean: on them a distance is nearly a skin's.

Takes E, F, G of places of the sheet (`Layout.tensor`); gives the matrices there and back. A plane is drawn out by the
symmetric root of the mean metric: what is left of the metric on it is 1, 0, 1 on the mean.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.ragged import Ragged
from engine.layout import Layout

__all__ = ["PLAIN", "Plane", "drawn_out", "greatest", "is_plain", "squares"]

PLAIN = 1e-9  # a metric that leaves 1, 0, 1 by no more is a plain sheet's
MOST_ASKED = 4000  # points of the outline at which the mean metric is asked
EXACT = 9  # digits of a plane's matrix: of two machines the same


def squares(tensor: Floats) -> Floats:
    """(n, 2, 2) metrics of E, F, G (n, 3)."""
    return tensor[:, [0, 1, 1, 2]].reshape(-1, 2, 2)


def is_plain(metric: Floats) -> bool:
    """Whether metrics (n, 2, 2) are all a plain sheet's."""
    return bool(np.abs(metric - np.eye(2)).max() < PLAIN)


def drawn_out(mean: Floats) -> Floats:
    """(..., 2, 2) from the sheet to the plane of each mean metric (..., 2, 2): its symmetric root."""
    value, vector = np.linalg.eigh(mean)
    return np.asarray((vector * np.sqrt(value)[..., None, :]) @ np.swapaxes(vector, -1, -2))


def greatest(metric: Floats, back: Floats) -> Floats:
    """(n,) mm on the skin for a mm of a plane, in the direction in which they are most, where the sheet's metric is
    (n, 2, 2); back : (n, 2, 2) from the plane to the sheet, or (2, 2) of one plane.
    """
    on_plane = np.swapaxes(back, -1, -2) @ metric @ back
    return np.asarray(np.sqrt(np.linalg.eigvalsh(on_plane)[:, 1]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """The plane of a whole outline, about its middle.

    middle : (2,) sheet mm. out, back : (2, 2) to the plane and from it. most : mm on the skin for a mm of the plane, at
    most, over the outline. layout : None where the sheet is as plain as the plane.
    """

    layout: Layout | None
    middle: Floats
    out: Floats
    back: Floats
    most: float = 1.0

    @classmethod
    def under(cls, rings: Ragged, layout: Layout | None) -> "Plane":
        """The plane of closed rings, sheet mm, as they lie on a layout; the sheet itself without one."""
        points = rings.points
        middle = 0.5 * (points.min(axis=0) + points.max(axis=0)) if len(points) else np.zeros(2)
        plain = cls(layout=None, middle=middle, out=np.eye(2), back=np.eye(2))
        if layout is None or not len(points):
            return plain
        metric = squares(layout.tensor(points[:: max(1, len(points) // MOST_ASKED)]))
        if is_plain(metric):
            return plain
        out = np.round(drawn_out(metric.mean(axis=0)), EXACT)
        back = np.asarray(np.linalg.inv(out), np.float64)
        return cls(layout=layout, middle=middle, out=out, back=back, most=float(greatest(metric, back).max()))

    def flat(self, rings: Ragged) -> Ragged:
        """Rings of the sheet on the plane."""
        return Ragged(points=(rings.points - self.middle) @ self.out.T, offsets=rings.offsets)

    def sheet(self, places: Floats) -> Floats:
        """(n, 2) places of the plane on the sheet, mm."""
        return np.asarray(places @ self.back.T + self.middle)

    def metric(self, places: Floats) -> Floats:
        """(n, 3) E, F, G at places (n, 2) of the plane; 1, 0, 1 without a layout."""
        if self.layout is None:
            return np.tile([1.0, 0.0, 1.0], (len(places), 1))
        E, F, G = self.layout.tensor(self.sheet(places)).T
        (a, b), (c, d) = self.back
        return np.stack(
            [
                E * a * a + 2.0 * F * a * c + G * c * c,
                E * a * b + F * (a * d + b * c) + G * c * d,
                E * b * b + 2.0 * F * b * d + G * d * d,
            ],
            axis=1,
        )
