"""What outlines cannot show: places that no sight line touches though lines touch on both sides of them.

In a slice of the piece the contacts are sorted by theta. Between two neighbours the normal (of the sight lines, not of
the fit) turns by some angle over a chord; chord over turn is the mean radius of curvature. Where that is far over the
section's radius, on a chord longer than the step of the photographs explains, one line touches at both ends: the skin
between is flat, or hollow to an unknown depth. Derived here; what outlines can show at all: A. Laurentini, "The visual
hull concept for silhouette-based image understanding", IEEE PAMI 16 (1994) 150-162.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.units import TURN_RAD
from engine.measure.photographs.fit import Linear
from engine.measure.photographs.rays import ALL_ROUND, EdgePoints

__all__ = ["Hollow", "depth_sigma", "disputed_sigma", "hollows", "joined"]

_SLICE_MM = 4.0
_OVER_MM = 0.05  # beyond its scatter, by which a line has to miss the skin to count
_HAND = 0.1  # of the radius
_FLAT = 2.6  # mean radius of curvature over the section's radius
_NEAR_RAD = 0.05  # contacts this near share a normal
_UNKNOWN = 0.08  # of the chord: one standard deviation of a hollow's depth, a guess that is told as one


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollow:
    """x from..to in mm, theta from..to in radians (to may pass a turn), the longest chord across it in mm."""

    x0_mm: float
    x1_mm: float
    theta0_rad: float
    theta1_rad: float
    chord_mm: float


def hollows(row: Linear, points: EdgePoints, length_mm: float) -> list[Hollow]:
    """Slice by slice, from the contacts of the settled fit; none with fewer than `ALL_ROUND` photographs."""
    touch, photos = row.touch, points.photos
    good = row.use & (np.abs(touch.gap_mm) < 4.0 * row.scale_mm + 0.01) & (touch.rho_mm > 3.0)
    if photos < ALL_ROUND:
        return []
    over = touch.touching & (touch.gap_mm < -4.0 * row.scale_mm - _OVER_MM)
    out: list[Hollow] = []
    for lo in np.arange(0.0, length_mm - 0.5 * _SLICE_MM, _SLICE_MM):
        here = good & (touch.x_mm >= lo) & (touch.x_mm < lo + _SLICE_MM)
        if here.sum() >= photos:
            theta = np.mod(touch.theta_rad[here], TURN_RAD)
            order = np.argsort(theta, kind="stable")
            normal = touch.normal_rad[here][order]
            radius = float(np.median(touch.rho_mm[here]))
            near = over & (touch.x_mm >= lo) & (touch.x_mm < lo + _SLICE_MM)
            pierced = (np.mod(touch.theta_rad[near], TURN_RAD), points.photo[near])
            hi = min(float(lo) + _SLICE_MM, length_mm)
            out += [
                Hollow(x0_mm=float(lo), x1_mm=hi, theta0_rad=a, theta1_rad=b, chord_mm=chord)
                for a, b, chord in _gaps(theta[order], normal, radius, photos, pierced)
            ]
    return out


def disputed_sigma(row: Linear, points: EdgePoints, x_mm: Floats, theta_rad: Floats) -> Floats:
    """(m, n) mm at places (m, 1) and (1, n): how far lines of two photographs or more miss the skin nearby, else 0.

    Nearby is a slice along, and two steps of the photographs around: what bulges over a flat, or cuts off a sharp edge,
    does so between them. A line that misses by over a tenth of the radius shows a hand or a cable.
    """
    out = np.zeros(np.broadcast_shapes(x_mm.shape, theta_rad.shape))
    if points.photos < ALL_ROUND:
        return out
    touch, step = row.touch, 4.0 * np.pi / points.photos
    missed = np.abs(touch.gap_mm)
    off = touch.touching & (missed > 4.0 * row.scale_mm + _OVER_MM) & (missed < _HAND * touch.rho_mm)
    x, theta, photo, missed = touch.x_mm[off], touch.theta_rad[off], points.photo[off], missed[off]
    for lo in np.arange(0.0, float(x_mm.max()), _SLICE_MM):
        here = np.flatnonzero((x >= lo) & (x < lo + _SLICE_MM))
        along = (x_mm >= lo - 0.25 * _SLICE_MM) & (x_mm <= lo + 1.25 * _SLICE_MM)
        apart = np.abs(np.angle(np.exp(1j * (theta[here] - theta[here][:, None])))) < step
        for k in np.flatnonzero((apart & (photo[here] != photo[here][:, None])).any(axis=1)):
            reach = np.abs(np.angle(np.exp(1j * (theta_rad - theta[here[k]])))) < step
            out = np.maximum(out, missed[here[k]] * (along & reach))
    return out


def _gaps(
    theta: Floats, normal: Floats, radius: float, photos: int, pierced: tuple[Floats, Ints]
) -> list[tuple[float, float, float]]:
    """(from, to, chord) of the gaps of one section that are flat or hollow: no line between them that touches, or
    lines of two photographs that pierce the skin there (`pierced`: their theta and photograph), as where a flat
    with sharp edges is bridged.

    Chords are those of the section's median radius: a steep profile spreads r within a slice, which is no hollow.
    """
    gap = np.diff(np.concatenate([theta, theta[:1] + TURN_RAD]))
    chord = 2.0 * radius * np.sin(np.minimum(gap, np.pi) / 2.0)

    def facing(at: float) -> float:
        near = np.abs(np.mod(theta - at + np.pi, TURN_RAD) - np.pi) < _NEAR_RAD
        return float(np.angle(np.exp(1j * normal[near]).mean()))

    out = []
    for k in np.flatnonzero(chord > max(2.0, 0.06 * radius)):
        turned = np.mod(facing(theta[(k + 1) % len(theta)]) - facing(theta[k]) + np.pi, TURN_RAD) - np.pi
        within = np.mod(pierced[0] - theta[k], TURN_RAD) < gap[k]
        if len(np.unique(pierced[1][within])) > 1 or chord[k] > _FLAT * radius * max(float(turned), np.pi / photos):
            out.append((float(theta[k]), float(theta[k] + gap[k]), float(chord[k])))
    return out


def joined(found: list[Hollow]) -> list[Hollow]:
    """Hollows of neighbouring slices that overlap, as one."""
    out: list[Hollow] = []
    for one in found:
        for i, other in enumerate(out):
            apart = (one.theta0_rad + one.theta1_rad - other.theta0_rad - other.theta1_rad) / 2.0
            turns = TURN_RAD * round(apart / TURN_RAD)
            width = max(one.theta1_rad - one.theta0_rad, other.theta1_rad - other.theta0_rad)
            if one.x0_mm - other.x1_mm < 0.5 * _SLICE_MM and abs(apart - turns) < 0.5 * width:
                out[i] = Hollow(
                    x0_mm=other.x0_mm,
                    x1_mm=one.x1_mm,
                    theta0_rad=min(other.theta0_rad, one.theta0_rad - turns),
                    theta1_rad=max(other.theta1_rad, one.theta1_rad - turns),
                    chord_mm=max(other.chord_mm, one.chord_mm),
                )
                break
        else:
            out.append(one)
    return out


def depth_sigma(found: list[Hollow], x_mm: Floats, theta_rad: Floats) -> Floats:
    """(m, n) least standard deviation, mm, at places (m, 1) and (1, n); 0 outside every hollow and its rim."""
    out = np.zeros(np.broadcast_shapes(x_mm.shape, theta_rad.shape))
    for one in found:
        along = (x_mm >= one.x0_mm - 0.75 * _SLICE_MM) & (x_mm < one.x1_mm + 0.75 * _SLICE_MM)
        into = np.mod(theta_rad - one.theta0_rad + 0.03, TURN_RAD)
        out = np.maximum(out, _UNKNOWN * one.chord_mm * (along & (into < one.theta1_rad - one.theta0_rad + 0.06)))
    return out
