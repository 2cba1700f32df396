"""Neighbouring readings that were left out on one side: a knob or a hollow of the piece, not slips of the probe.

Wild readings come one at a time. Where two or more neighbours stand above the skin that the others tell, or two or more
below it, they tell of the piece: the skin does not follow them, so that it is not known there and its error is theirs.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.surface.settling import Surface

__all__ = ["Features", "features_of"]

NEIGHBOURS = 1.5  # usual spacings: across a cell of a grid, or to half as far again where stations are uneven
REACH = 1.5  # usual spacings along and around: past the used readings beside it, which may stand on its flank; by trial
NAMED = 5  # places named in a finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Features:
    """height_mm : (k,) of each reading the greatest distance from the skin of any in its feature, 0 outside of all.

    x_mm, angle_deg, greatest_mm, count : (f,) of the features their middles, the distance with its sign, the highest
    first, and how many readings each has.
    """

    surface: Surface
    height_mm: Floats
    x_mm: Floats
    angle_deg: Floats
    greatest_mm: Floats
    count: Floats

    def least_sigma(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """(m, n) mm the greatest distance at and around a feature's readings, past the used ones beside; else 0."""
        least = np.zeros((len(x_mm), len(theta_rad)))
        member = np.flatnonzero(self.height_mm)
        if not len(member):
            return least
        e = self.surface.equations
        x, theta = np.broadcast_arrays(x_mm[:, None], theta_rad[None, :])
        places, box = e.spacing.places(x.ravel(), theta.ravel()), e.spacing.box
        flat = self.height_mm[np.asarray(cKDTree(e.places, boxsize=box).query(places)[1])]
        near = cKDTree(places, boxsize=box).query_ball_point(e.places[member], REACH, p=np.inf)
        for k, here in zip(member, near, strict=True):
            flat[here] = np.maximum(flat[here], self.height_mm[k])
        return np.asarray(flat.reshape(least.shape))

    def findings(self) -> tuple[Finding, ...]:
        """The findings `standing-out` and `hollow-left-out`, each with its places, the highest first."""
        above = self.greatest_mm > 0
        return (
            *self._tell(np.flatnonzero(above), "standing-out", "above"),
            *self._tell(np.flatnonzero(~above), "hollow-left-out", "below"),
        )

    def _tell(self, which: np.ndarray, code: str, side: str) -> tuple[Finding, ...]:
        if not len(which):
            return ()
        named = "; ".join(
            f"x {self.x_mm[f]:.1f}, angle {self.angle_deg[f]:.0f}: {abs(self.greatest_mm[f]):.2f} mm "
            f"({self.count[f]:.0f} readings)"
            for f in which[:NAMED]
        )
        more = f" and {len(which) - NAMED} more places" if len(which) > NAMED else ""
        return (
            Finding(
                severity=Severity.WARNING,
                code=code,
                message=f"neighbouring readings lie {side} the skin that the others tell: {named}{more}; the skin does "
                "not follow them",
                advice="probe there more finely, or keep the art and the way of the tool off it",
                where=Where(x_mm=float(self.x_mm[which[0]]), angle_deg=float(self.angle_deg[which[0]])),
            ),
        )


def features_of(surface: Surface) -> Features:
    """The features among the readings that a settled fit left out."""
    e, away = surface.equations, surface.away_mm
    out = np.flatnonzero(~surface.used)
    height = np.zeros(len(away))
    found: list[tuple[float, float, float, int]] = []
    for side in (1.0, -1.0):
        here = out[side * away[out] > 0]
        if len(here) < 2:
            continue
        pairs = cKDTree(e.places[here], boxsize=e.spacing.box).query_pairs(NEIGHBOURS, output_type="ndarray")
        linked = sparse.coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), (len(here), len(here)))
        label = connected_components(linked, directed=False)[1]
        for f in np.flatnonzero(np.bincount(label) > 1):
            member = here[label == f]
            height[member] = np.abs(away[member]).max()
            angle = np.angle(np.exp(1j * e.readings.theta_rad[member]).sum(), deg=True)
            middle = float(e.readings.x_mm[member].mean())
            found.append((side * float(height[member[0]]), middle, round(float(angle), 6) % 360.0, len(member)))
    found.sort(key=lambda feature: (-round(abs(feature[0]), 9), feature[1], feature[2]))
    greatest, x, angles, count = np.array(found, np.float64).reshape(-1, 4).T
    return Features(surface=surface, height_mm=height, x_mm=x, angle_deg=angles, greatest_mm=greatest, count=count)
