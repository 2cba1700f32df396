"""Exact outlines of pieces by the condition that skin, normal and camera set, with no code of what measures them.

A place (x, theta) of the skin lies on the outline where the line from the camera lies in its tangent plane: for each x
the two theta are found by bisection between the side towards the camera and the one away from it, and projected through
the camera and its lens. Faults of stand, rotary, lens and marks are put in here.
Frames and the lens' formula are those of `tests.measure.photographs.renderer`.
"""

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from engine.measure.photographs import Edge

SIZE_PX = (4000, 3000)


@dataclass(frozen=True, kw_only=True)
class Piece:
    """r(x, theta) and its slopes by finite differences."""

    radius: object
    length_mm: float

    def slopes(self, x, theta):
        h = 1e-5
        r = self.radius
        return (r(x + h, theta) - r(x - h, theta)) / (2 * h), (r(x, theta + h) - r(x, theta - h)) / (2 * h)


def _gourd(x, t):
    p = 20.0 + 18.35 * np.exp(-(((x - 70.0) / 26.0) ** 2)) - 3.0 * np.exp(-(((x - 22.0) / 16.0) ** 2))
    lobes = 1.35 * np.cos(2 * (t - 0.5 - 0.004 * x)) + 0.55 * np.cos(3 * t + 0.9) + 0.16 * np.cos(5 * t - 0.02 * x)
    return p + p / 38.0 * lobes + 0.8 * np.cos(t - 2.1) + 0.008 * x * np.cos(t + 0.4)


def _bottle(x, t):
    belly = 16.0 + 24.0 / (1.0 + np.exp((x - 66.0) / 5.5)) - 3.5 * np.exp(-(((x - 20.0) / 14.0) ** 2))
    return belly + 1.2 * np.exp(-(((x - 98.0) / 5.0) ** 2)) + 0.0 * t


def _dented(x, t):
    d = np.arctan2(np.sin(t - 1.2), np.cos(t - 1.2))
    return 31.0 + np.cos(2 * t) - 3.0 * np.exp(-((d / 0.28) ** 2) - ((x - 55.0) / 14.0) ** 2)


GOURD = Piece(radius=_gourd, length_mm=110.0)
BOTTLE = Piece(radius=_bottle, length_mm=110.0)


@dataclass(frozen=True, kw_only=True)
class Faults:
    """Standard deviations; `k1` and `camera_mm` are what they are."""

    camera_mm: float = 300.0
    px_per_mm: float = 30.0
    k1: float = 0.0
    pitch_deg: float = 0.0
    noise_px: float = 0.0
    edge_px: float = 0.0  # by which every edge is placed too far out
    angle_deg: float = 0.0
    wobble_mm: float = 0.0
    marks_px: float = 0.0
    step_mm: float = 0.3
    holder_mm: float = 0.0  # radius of a round bar at x = 0; the one at the other end is 0.6 as thick
    runout_mm: float = 0.0  # of both bars, towards blank angle 0
    bar_mm: float = 14.0


def photographs(piece, angles_deg, faults, seed=0, size_px=SIZE_PX):
    """(edges, axis_px) of a turned piece: axis_px is of the camera that stands still, with the marks' error."""
    rng = np.random.default_rng(seed)
    edges = []
    n = len(angles_deg)
    turned = np.radians(np.asarray(angles_deg) + faults.angle_deg * rng.standard_normal(n))
    stood = faults.wobble_mm * rng.standard_normal((n, 3))
    for beta, off in zip(turned, stood, strict=True):
        edges.append(outline(piece, beta, faults, off, rng, size_px))
    ends = axis_px(piece, faults, np.zeros(3), size_px)
    return edges, ends + faults.marks_px * rng.standard_normal((2, 2))


def axis_px(piece, faults, off_mm, size_px=SIZE_PX):
    """(2, 2) the axis' ends as a camera that stands `off_mm` beside its place shows them."""
    centre, turn = _camera(piece, faults, off_mm)
    return _project(np.array([[0, 0, 0], [piece.length_mm, 0, 0]]), centre, turn, faults, size_px)


def outline(piece, beta, faults, off_mm, rng, size_px=SIZE_PX):
    """One photograph's edge."""
    centre, turn = _camera(piece, faults, off_mm)
    parts = _along(piece, faults)
    sides = []
    for sign in (1.0, -1.0):
        side = [_touched(one, x, beta, centre, sign) for one, x in parts]
        sides.append(_project(np.concatenate(side), centre, turn, faults, size_px))
    points = np.concatenate([sides[0], sides[1][::-1]])
    points = points + faults.edge_px * _outwards(points)
    clear = np.concatenate([_off_corners(len(x)) for _, x in parts])
    points = points + faults.noise_px * rng.standard_normal(points.shape)
    return edge_of(points, size_px, ok=np.concatenate([clear, clear[::-1]]))


def _along(piece, faults):
    """(piece, x) from one end of the outline to the other: bar, piece, bar."""
    whole = [(piece, np.arange(0.0, piece.length_mm + 1e-9, faults.step_mm))]
    if not faults.holder_mm:
        return whole
    beyond = np.arange(0.0, faults.bar_mm, faults.step_mm)
    bars = [
        Piece(radius=partial(_bar, thick * faults.holder_mm, faults.runout_mm), length_mm=piece.length_mm)
        for thick in (1.0, 0.6)
    ]
    return [(bars[0], -beyond[::-1]), *whole, (bars[1], piece.length_mm + beyond)]


def _outwards(points):
    """(n, 2) unit normals of a closed outline that goes +X on the +Y side."""
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    return np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(*along.T)[:, None]


def _off_corners(n):
    """(n,) False next to where the outline turns sharply."""
    return (np.arange(n) >= 3) & (np.arange(n) < n - 3)


def _bar(radius_mm, runout_mm, x, t):
    """A round bar beside the axis, towards angle 0."""
    return 0.0 * x + runout_mm * np.cos(t) + np.sqrt(radius_mm**2 - (runout_mm * np.sin(t)) ** 2)


def _touched(piece, x, beta, centre, sign):
    """(n, 3) places of the outline in the lab."""
    theta = _tangent(piece, x, beta, centre, sign)
    r = piece.radius(x, theta)
    return np.stack([x, r * np.sin(theta - beta), r * np.cos(theta - beta)], axis=1)


def edge_of(points, size_px=SIZE_PX, ok=None, findings=()):
    """An `Edge` of given points."""
    n = len(points)
    return Edge(
        points_px=points,
        ok=np.ones(n, bool) if ok is None else ok,
        blur_px=np.ones(n),
        size_px=size_px,
        threshold=20.0,
        otsu=20.0,
        distance=np.zeros((1, 1), np.uint8),
        distance_step=0.5,
        mask_scale=1,
        findings=findings,
    )


def _camera(piece, faults, off_mm):
    p = math.radians(faults.pitch_deg)
    turn = np.array([[math.cos(p), 0, math.sin(p)], [0, 1, 0], [-math.sin(p), 0, math.cos(p)]])
    z = faults.camera_mm
    return np.array([piece.length_mm / 2 - z * math.tan(p), 0, z]) + off_mm, turn


def _project(points, centre, turn, faults, size_px):
    """+X stands to the right of the picture, +Y (right of +X up) below."""
    q = (points - centre) @ turn.T
    f = faults.px_per_mm * faults.camera_mm
    perfect = f * q[:, :2] / -q[:, 2:]
    rho2 = (perfect**2).sum(axis=1, keepdims=True) / (size_px[0] ** 2 + size_px[1] ** 2) * 4
    return np.array(size_px) / 2 + perfect * (1 + faults.k1 * rho2)


def _tangent(piece, x, beta, centre, sign):
    """(n,) theta of the outline on the side of Y that `sign` tells: the sight line lies in the tangent plane."""

    def facing(theta):
        r = piece.radius(x, theta)
        r_x, r_t = piece.slopes(x, theta)
        radial = np.stack([0 * x, np.sin(theta - beta), np.cos(theta - beta)], axis=1)
        around = np.stack([0 * x, np.cos(theta - beta), -np.sin(theta - beta)], axis=1)
        normal = radial * r[:, None] - around * r_t[:, None]
        normal[:, 0] = -r * r_x
        at = np.stack([x, 0 * x, 0 * x], axis=1) + radial * r[:, None]
        return (normal * (centre - at)).sum(axis=1)

    lo, hi = beta + 0 * x + sign * 0.35, beta + 0 * x + sign * 2.6
    for _ in range(50):
        mid = (lo + hi) / 2
        seen = facing(mid) > 0
        lo, hi = np.where(seen, mid, lo), np.where(seen, hi, mid)
    return (lo + hi) / 2
