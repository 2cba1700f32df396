"""A blank measured in two chuckings, turned end for end in between: both measurements made one.

Takes both measurements and two marks seen in each. The marks give how the frames lie, x' = sum - x and theta' = turn -
theta; where the measurements overlap the rest (tilt, offset, the marks' own small error) is found by fitting one to
the other. The answer stands in the second frame, that of the blank as it is in the chuck now; it is the mean weighted
by the inverse variance, blended so that nothing jumps where one of the two ends. Refuses marks that do not agree.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import distance_transform_edt

from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.measure.chucking.carrying import carried, surroundings
from engine.measure.chucking.continued import Continued
from engine.measure.chucking.doubts import warning
from engine.measure.chucking.fitting import Prior, Problem, settle
from engine.measure.chucking.motion import Motion
from engine.measure.measured import Measured

__all__ = ["Mark", "end_for_end"]

MOST_APART_MM, MOST_APART_DEG = 1.0, 3.0  # two marks that disagree by more are not the same two marks
SHIFT_SIGMA_MM, TURN_SIGMA_DEG = 0.5, 1.5  # of a mark read by eye: half of that
TILT_SIGMA_DEG, OFFSET_SIGMA_MM = 1.0, 1.0  # of a blank put back by hand; no source
LEAST_OVERLAP = 40  # places of both, to refine the motion
MOST_OVERLAP = 400  # more tell nothing new
LEAST_USED = 0.8  # share of the overlap that must fit once refined
MISFIT = 3.0  # times what the sigmas say
FAR = 3.0  # sigmas from the marks: no longer a refinement
BLEND_MM = 5.0
LEAST_WEIGHT = 1e-6  # of a filled place beside a known one
MOST_STATIONS = 2001  # half a millimetre apart on a metre
_Words = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark on the blank: its station and angle in the first measurement's frame and in the second's."""

    first_x_mm: float
    first_angle_deg: float
    second_x_mm: float
    second_angle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Standing:
    """How the first frame lies in the second: a small motion and its covariance, then the exact end-for-end one."""

    small: Motion
    covariance: Floats
    flip: Motion
    how: _Words
    findings: tuple[Finding, ...] = ()


def end_for_end(first: Measured, second: Measured, marks: Sequence[Mark]) -> Measured:
    """One skin of both in the second's frame, over all stations of either.

    Raises BlankError where there are not two marks, or they disagree by more than 1 mm or 3 degrees.
    """
    flip, words = _by_marks(marks)
    standing = _refined(first, second, flip)
    x, angles = _grid(first, second, flip)
    none = Motion(pivot_mm=standing.small.pivot_mm)
    one = carried(first, standing.small, covariance=standing.covariance, after=flip, x_mm=x, angles=angles)
    two = carried(second, none, x_mm=x, angles=angles)
    own = sum(float((source.sigma_mm[source.known] ** 2).mean()) for source in (first, second))
    merged = _merged(one, two)
    return replace(
        merged,
        findings=(*_turned(first.findings, flip), *second.findings, *standing.findings, _compared(one, two, own)),
        how=(*words, *standing.how),
    )


def _by_marks(marks: Sequence[Mark]) -> tuple[Motion, _Words]:
    if len(marks) < 2:
        raise BlankError(
            f"{len(marks)} marks cannot join two measurements",
            where="/marks",
            hint="make two marks on the blank, far apart along it, and read station and angle of both each time",
        )
    sums = np.array([mark.first_x_mm + mark.second_x_mm for mark in marks])
    turns = np.radians([mark.first_angle_deg + mark.second_angle_deg for mark in marks])
    if not (np.isfinite(sums).all() and np.isfinite(turns).all()):
        raise BlankError("a mark's station or angle is no number", where="/marks", hint="read the marks again")
    turn = float(np.angle(np.exp(1j * turns).sum()))
    apart_mm = float(np.ptp(sums))
    apart_deg = float(np.degrees(np.ptp((turns - turn + np.pi) % TURN_RAD)))
    if apart_mm > MOST_APART_MM or apart_deg > MOST_APART_DEG:
        raise BlankError(
            f"the marks disagree by {apart_mm:.2f} mm and {apart_deg:.1f} deg",
            where="/marks",
            hint=(
                f"up to {MOST_APART_MM:g} mm and {MOST_APART_DEG:g} deg is good: check that both lists name the marks "
                "in one order and that the blank was turned end for end, then read them again"
            ),
        )
    words = ("marks", f"they disagree by {apart_mm:.2f} mm and {apart_deg:.2f} deg")
    return Motion.end_for_end(float(sums.mean()), turn), (words,)


def _refined(first: Measured, second: Measured, flip: Motion) -> _Standing:
    """The motion that is left when the marks' own is done, from places that both measurements know."""
    pivot = 0.5 * float(first.x_mm[0] + first.x_mm[-1])
    rest = Motion(pivot_mm=pivot)
    tilt = np.radians(TILT_SIGMA_DEG)
    sigma = np.array([SHIFT_SIGMA_MM, np.radians(TURN_SIGMA_DEG), tilt, tilt, OFFSET_SIGMA_MM, OFFSET_SIGMA_MM])
    prior = Prior(mean=np.zeros(6), sigma=sigma)
    points, variance = _overlap(first, second, flip)
    only_marks = _Standing(
        small=rest, covariance=np.diag(sigma**2), flip=flip, how=(("how the ends lie", "by the marks alone"),)
    )
    if len(points) < LEAST_OVERLAP:
        text = "the two measurements have too little in common to check the marks by"
        advice = "measure past the middle from both ends"
        return replace(only_marks, findings=(warning("no-overlap", text, advice),))
    total = np.sqrt(variance)
    problem = Problem(
        body=Continued(first.skin()),
        points_mm=points,
        sigma_mm=total,
        pivot_mm=pivot,
        prior=prior,
        skin_sigma_mm=float(total.min()),
    )
    fit = settle(problem, prior.mean)
    far = float(np.abs(fit.parameters / sigma).max())
    if fit.used.mean() < LEAST_USED or fit.factor > MISFIT or far > FAR:
        text = "where the two measurements overlap they do not fit each other, so the marks alone join them"
        advice = "check that it is the same blank and that the marks are right, or measure one end again"
        return replace(only_marks, findings=(warning("overlap-does-not-fit", text, advice),))
    small = problem.motion(fit.parameters)
    left = float(np.sqrt((fit.residual_mm[fit.used] ** 2).mean()))
    words = (
        f"by the marks, then by {len(points)} places of the overlap: moved by {small.shift_mm:.3f} mm, "
        f"{np.degrees(small.turn_rad):.2f} deg, tilt {np.degrees(small.lean_rad):.3f} deg, "
        f"offset {np.hypot(small.offset_y_mm, small.offset_z_mm):.3f} mm; {left:.4f} mm rms is left"
    )
    return _Standing(small=small, covariance=fit.covariance, flip=flip, how=(("how the ends lie", words),))


def _overlap(first: Measured, second: Measured, flip: Motion) -> tuple[Floats, Floats]:
    """(k, 3) places of the second measurement in the first's frame, known in both, and both's variance (k,) mm2."""
    theta = second.theta_rad
    radius = second.radius_mm
    x = np.broadcast_to(second.x_mm[:, None], radius.shape)
    spots = flip.back(np.stack([x, radius * np.cos(theta), radius * np.sin(theta)], axis=-1))[second.known]
    variance = second.sigma_mm[second.known] ** 2
    within = (spots[:, 0] >= first.x_mm[0]) & (spots[:, 0] <= first.x_mm[-1])
    spots, variance = spots[within], variance[within]
    other, known = surroundings(first, spots[:, 0], np.arctan2(spots[:, 2], spots[:, 1]))
    spots, variance = spots[known], np.maximum((variance + other)[known], 1e-12)
    few = np.linspace(0, len(spots) - 1, min(len(spots), MOST_OVERLAP)).round().astype(np.int64)
    return spots[few], variance[few]


def _grid(first: Measured, second: Measured, flip: Motion) -> tuple[Floats, int]:
    """Even stations over both, as close as the closer one's, and as many angles as the finer one has."""
    ends = np.round(flip.shift_mm - first.x_mm[[-1, 0]], 9)
    low, high = min(ends[0], second.x_mm[0]), max(ends[1], second.x_mm[-1])
    apart = min((one.x_mm[-1] - one.x_mm[0]) / (len(one.x_mm) - 1) for one in (first, second))
    count = int(np.clip(np.ceil(np.round((high - low) / apart, 6)) + 1, 5, MOST_STATIONS))
    return np.linspace(low, high, count), max(first.radius_mm.shape[1], second.radius_mm.shape[1])


def _merged(one: Measured, two: Measured) -> Measured:
    """The mean weighted by the inverse variance; where the two differ by more than their sigmas it goes in."""
    weights = [_taper(source) / np.maximum(source.sigma_mm, 1e-9) ** 2 for source in (one, two)]
    share = weights[0] / (weights[0] + weights[1])
    apart = one.radius_mm - two.radius_mm
    more = np.maximum(apart**2 - one.sigma_mm**2 - two.sigma_mm**2, 0.0)
    variance = (share * one.sigma_mm) ** 2 + ((1.0 - share) * two.sigma_mm) ** 2 + share * (1.0 - share) * more
    return Measured(
        x_mm=one.x_mm,
        radius_mm=two.radius_mm + share * apart,
        sigma_mm=np.sqrt(variance),
        known=one.known | two.known,
    )


def _taper(source: Measured) -> Floats:
    """(m, n) 1 well inside what is known, falling smoothly to next to nothing where it ends."""
    if source.known.all():
        return np.ones(source.known.shape)
    m, n = source.known.shape
    per_x = float(source.x_mm[-1] - source.x_mm[0]) / (m - 1)
    per_theta = float(source.radius_mm.mean()) * TURN_RAD / n
    turned = np.concatenate([source.known, source.known, source.known], axis=1)  # round the turn both ways
    inside = np.asarray(distance_transform_edt(turned, sampling=(per_x, per_theta)))[:, n : 2 * n]
    share = np.clip(inside / BLEND_MM, 0.0, 1.0)
    taper: Floats = share * share * (3.0 - 2.0 * share) + LEAST_WEIGHT
    return taper


def _turned(findings: Sequence[Finding], flip: Motion) -> list[Finding]:
    """The first measurement's findings, their places told in the second's frame."""
    made = []
    for finding in findings:
        at = finding.where
        x = None if at.x_mm is None else flip.shift_mm - at.x_mm
        angle = None if at.angle_deg is None else float(-np.degrees(flip.turn_rad) - at.angle_deg) % 360.0
        made.append(replace(finding, where=replace(at, x_mm=x, angle_deg=angle)))
    return made


def _compared(one: Measured, two: Measured, own: float) -> Finding:
    """How far the two are apart where both are known; `own` is the variance, mm2, that their own sigmas allow."""
    both = one.known & two.known
    if not both.any():
        text = "no place was measured from both ends: nothing shows whether the two fit each other"
        return warning("ends-not-compared", text, "measure past the middle from both ends")
    apart = np.where(both, one.radius_mm - two.radius_mm, 0.0)
    rms = float(np.sqrt((apart[both] ** 2).mean()))
    expected = float(np.sqrt(own))
    i, j = np.unravel_index(int(np.round(np.abs(apart), 9).argmax()), apart.shape)
    worst, place = float(apart[i, j]), Where(x_mm=float(one.x_mm[i]), angle_deg=float(np.degrees(one.theta_rad[j])))
    text = (
        f"where both ends' measurements overlap they differ by {rms:.3f} mm rms and {abs(worst):.3f} mm at most; "
        f"{expected:.3f} mm is to be expected"
    )
    if rms > MISFIT * expected:
        return replace(warning("ends-disagree", text, "measure one end again"), where=place)
    return Finding(severity=Severity.NOTE, code="ends-agree", message=text, where=place)
