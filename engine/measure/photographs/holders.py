"""What holds the piece, as the pictures show it beyond the marked ends: round hardware that turns about the axis.

A camera that moves across the axis and a piece that runs out look alike. Hardware hardly runs out: where its midline
stands in each photograph tells where the camera stood.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.findings import Finding, Severity, Where
from engine.measure.photographs.camera import Setup, camera_of, marked
from engine.measure.photographs.corrections import TRIED, Corrections, expected, rays_for, seen
from engine.measure.photographs.edge import Edge
from engine.measure.photographs.rays import ALL_ROUND, EdgePoints

__all__ = ["Holders", "about_holders", "holders_in_words", "holders_of", "information"]

_STRETCH_MM = 1.0  # of the axis over which one width is taken
_CLEAR = 0.05  # of the length: the piece's own end, seen nearer to the camera, reaches no farther beyond its mark
_WIDTH_MM = 0.15  # half widths of round hardware differ by no more from picture to picture, however a stand sways
_SEEN = 0.8  # of the photographs must show a stretch of it
_NOISE_MM = 0.01  # of one midline: a mean over millimetres of edge on both sides
_OFF_AXIS_MM = 0.1  # by which a tailstock stands beside the rotary's axis: common practice, no source
_RUNS_OUT = 8.0  # Fisher's ratio for two more parameters that chance exceeds once in 700 times (36 photographs)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Holders:
    """Midlines of hardware: k of them, at most one for each photograph and end, none where none is seen.

    points : of its edges, as many on either side of the axis. line : (n,) the midline that a point belongs to.
    photo, end : (k,) of the midlines. swing_mm : (2,) by which each end's midline goes round beyond chance, else 0.
    """

    points: EdgePoints
    line: Ints
    photo: Ints
    end: Ints
    swing_mm: tuple[float, float]

    @property
    def seen(self) -> bool:
        """Whether any is in the pictures."""
        return len(self.photo) > 0


def holders_of(edges: Sequence[Edge], points: EdgePoints, setup: Setup) -> Holders:
    """The hardware in the outlines beyond the marked ends, round and in most of the photographs; else none."""
    found: list[tuple[Floats, int, int]] = []
    if setup.holder_sigma_mm is not None and points.photos >= ALL_ROUND:
        found = [*_pairs(edges, setup, 0), *_pairs(edges, setup, 1)]
    line = np.repeat(np.arange(len(found)), [pairs.shape[1] * 2 for pairs, _, _ in found])
    photo, end = (np.array([one[k] for one in found], np.int64) for k in (1, 2))
    side = np.concatenate([np.repeat([1, -1], pairs.shape[1]) for pairs, _, _ in found] or [np.zeros(0, np.int64)])
    off = np.concatenate([pairs.reshape(-1, 2) for pairs, _, _ in found] or [np.zeros((0, 2))])
    seen_at = EdgePoints(off_px=off, photo=photo[line], side=side, run=line, beta_rad=points.beta_rad, findings=())
    holders = Holders(points=seen_at, line=line, photo=photo, end=end, swing_mm=(0.0, 0.0))
    middle = _midlines(holders, setup, expected(setup, points.photos))
    swings = [_swing(middle[end == k], points.beta_rad[photo[end == k]]) for k in (0, 1)]
    return replace(holders, swing_mm=(swings[0], swings[1]))


def _pairs(edges: Sequence[Edge], setup: Setup, end: int) -> list[tuple[Floats, int, int]]:
    """((2, b, 2) points on both sides, from the picture's middle; photograph; end) of each that shows the hardware."""
    camera = camera_of(setup)
    bins = int(0.5 * setup.length_mm / _STRETCH_MM)
    where = np.full((len(edges), 2, bins, 2), np.nan)
    for i, edge in enumerate(edges):
        off = edge.points_px[edge.ok] - np.asarray(edge.size_px) / 2.0
        x, y = marked(camera, off)
        beyond = (-x if end == 0 else x - setup.length_mm) - _CLEAR * setup.length_mm
        at = np.floor(beyond / _STRETCH_MM).astype(np.int64)
        for side in (0, 1):
            own = (at >= 0) & (at < bins) & ((y > 0.0) == (side == 0))
            count = np.bincount(at[own], minlength=bins)
            for axis in (0, 1):
                total = np.bincount(at[own], off[own, axis], minlength=bins)
                where[i, side, :, axis] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    round_here = _round(where, camera.mm_per_px)
    there = np.isfinite(where).all(axis=(1, 3)) & round_here
    return [(where[i][:, there[i]], i, end) for i in range(len(edges)) if there[i].any()]


def _round(where: Floats, mm_per_px: float) -> Bools:
    """(b,) stretches that enough photographs show, all as wide."""
    half = np.hypot(*np.moveaxis(where[:, 0] - where[:, 1], 2, 0)) * mm_per_px / 2.0
    shown = np.isfinite(half)
    out = shown.mean(axis=0) >= _SEEN
    alike = np.abs(half[:, out] - np.nanmedian(half[:, out], axis=0)) < _WIDTH_MM
    out[out] = alike.sum(axis=0) >= _SEEN * shown[:, out].sum(axis=0)
    return np.asarray(out)


def _swing(middle_mm: Floats, beta_rad: Floats) -> float:
    """Amplitude of the midline's first harmonic where it stands out of the rest of its movement, else 0."""
    if len(middle_mm) < ALL_ROUND:
        return 0.0
    rows = np.stack([np.ones_like(beta_rad), np.cos(beta_rad), np.sin(beta_rad)], axis=1)
    by = np.linalg.lstsq(rows, middle_mm, rcond=None)[0]
    rest = float(np.sum((middle_mm - rows @ by) ** 2)) / (len(middle_mm) - 3) + _NOISE_MM**2 / 4.0
    gained = float(np.sum((middle_mm - middle_mm.mean()) ** 2)) - float(np.sum((middle_mm - rows @ by) ** 2))
    return float(np.hypot(by[1], by[2])) if gained / 2.0 > _RUNS_OUT * rest else 0.0


def _midlines(holders: Holders, setup: Setup, corrections: Corrections) -> Floats:
    """(k,) mm by which each midline lies beside the axis."""
    _, foot, _ = rays_for(holders.points, setup, corrections)
    return _means(holders, _beside(holders, foot))


def _beside(holders: Holders, foot: Floats) -> Floats:
    """(n,) how far each sight line passes the axis, negative on the far side of it."""
    return np.asarray(np.hypot(foot[:, 1], foot[:, 2]) * np.where(holders.points.side > 0, 1.0, -1.0))


def _means(holders: Holders, value: Floats) -> Floats:
    """(k,) of each midline, the mean of its points' values (n,)."""
    count = np.bincount(holders.line, minlength=len(holders.photo))
    return np.bincount(holders.line, value, minlength=len(holders.photo)) / np.maximum(count, 1)


def information(holders: Holders, setup: Setup, corrections: Corrections) -> tuple[Floats, Floats]:
    """What the midlines add to the corrections' inverse covariance, (k, k), and to its right side, (k,): the pull.

    A midline errs by its noise; alike in all photographs by what its end stands beside the axis; and goes round with
    the hardware's runout, held by `holder_sigma_mm`, or by its swing where that is larger.
    """
    size = len(corrections.value)
    if not holders.seen:
        return np.zeros((size, size)), np.zeros(size)
    middle = _midlines(holders, setup, corrections)
    slope = _slopes(holders, setup, corrections)
    weigh = np.zeros((len(middle), len(middle)))
    for end in (0, 1):
        own = np.flatnonzero(holders.end == end)
        beta = holders.points.beta_rad[holders.photo[own]]
        runout = max(setup.holder_sigma_mm or 0.0, holders.swing_mm[end])
        alike = np.stack([np.full_like(beta, _OFF_AXIS_MM), runout * np.cos(beta), runout * np.sin(beta)])
        weigh[np.ix_(own, own)] = np.linalg.inv(alike.T @ alike + _NOISE_MM**2 * np.identity(len(own)))
    return slope.T @ weigh @ slope, -slope.T @ weigh @ middle


def _slopes(holders: Holders, setup: Setup, corrections: Corrections) -> Floats:
    """(lines, k) of each midline by each correction."""
    points = holders.points
    _, foot, _ = rays_for(points, setup, corrections)
    base = foot - seen(points, setup, corrections, {})[0]
    out = np.zeros((len(holders.photo), len(corrections.value)))
    for name in corrections.shared:
        if name not in TRIED:
            continue
        h, off = TRIED[name], []
        for tried in (h, -h):
            near, along = seen(points, setup, corrections, {name: tried})
            near = near + base
            near -= ((near * along)[:, 1:].sum(axis=1) / (along[:, 1:] ** 2).sum(axis=1))[:, None] * along
            off.append(_means(holders, _beside(holders, near)))
        out[:, corrections.place(name).start] = (off[0] - off[1]) / (2.0 * h)
    if "across" in corrections.each:
        by = np.abs(foot[:, 1]) / np.hypot(foot[:, 1], foot[:, 2])
        out[np.arange(len(out)), corrections.place("across").start + holders.photo] = _means(holders, by)
    return out


def about_holders(holders: Holders) -> list[Finding]:
    """`holder-runs-out`, for each end whose midline goes round with the piece."""
    out = []
    for end, swing in enumerate(holders.swing_mm):
        if swing > 0.0:
            told = (
                f"what holds the piece at the {('first', 'second')[end]} mark goes round by {swing:.2f} mm either way"
            )
            advice = "measure its runout with a dial indicator and true it; it is not used to tell how the camera stood"
            where = Where(pointer=("/axis/from_px", "/axis/to_px")[end])
            out.append(
                Finding(severity=Severity.WARNING, code="holder-runs-out", message=told, advice=advice, where=where)
            )
    return out


def holders_in_words(holders: Holders) -> tuple[tuple[str, str], ...]:
    """At which marks hardware is seen and in how many photographs; empty where none is."""
    counts = {name: int((holders.end == end).sum()) for end, name in enumerate(("first", "second"))}
    told = ", ".join(f"at the {name} mark in {count} photographs" for name, count in counts.items() if count)
    return (("hardware that tells how the camera stood", told),) if told else ()
