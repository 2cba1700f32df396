"""Where an edge runs, to a fraction of a pixel: profiles of light read square to a rough outline.

A camera adds up light, so an edge lies where a profile passes half way between what it is inside and outside, in linear
light. Inside and outside are straight lines fitted to the two ends of each profile: shading, uneven light and a soft
shadow move neither. The threshold that found the body plays no part.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from engine.kernel.arrays import Bools, Bytes8, Floats
from engine.measure.photographs.lab import LINEAR, Light
from engine.measure.photographs.outline import evenly, outward, round_smooth

__all__ = ["Crossing", "half_light", "profiles", "steepest"]

STEP_PX = 3.0
"""Step along the outline: profiles nearer than this read the same pixels."""
_BENT, _STRAY = 0.3, 0.1
"""Shares of the step of light; chosen on rendered glossy pieces so that what is left lies within 0.1 px."""


def profiles(picture: Bytes8, points: Floats, normals: Floats, s: Floats) -> Light:
    """(n, m, 3) linear light at points + s * normals, bilinear; beyond the picture its border goes on."""
    h, w, _ = picture.shape
    x = np.clip(points[:, :1] + s * normals[:, :1] - 0.5, 0.0, w - 1.001)
    y = np.clip(points[:, 1:] + s * normals[:, 1:] - 0.5, 0.0, h - 1.001)
    column, row = x.astype(np.int64), y.astype(np.int64)
    fx, fy = (x - column)[..., None].astype(np.float32), (y - row)[..., None].astype(np.float32)
    pixels = picture.reshape(-1, 3)
    at = row * w + column
    top = LINEAR[pixels[at]] * (1 - fx) + LINEAR[pixels[at + 1]] * fx
    bottom = LINEAR[pixels[at + w]] * (1 - fx) + LINEAR[pixels[at + w + 1]] * fx
    return np.asarray(top * (1 - fy) + bottom * fy)


def steepest(picture: Bytes8, points: Floats, reach: int) -> Floats:
    """The outline moved to the steepest step of light within `reach` px either side, evened out along it."""
    normals = outward(points)
    s = np.arange(-reach, reach + 1, 1.0)
    seen = round_smooth(profiles(picture, points, normals, s), 2.0)
    step = seen[:, -reach // 2 :].mean(axis=1) - seen[:, : reach // 2].mean(axis=1)
    slope = ndimage.gaussian_filter1d(_along(seen, _directions(step, 8.0)), 1.5, axis=1, order=1)
    most = slope.max(axis=1)
    chosen = s[np.argmax(slope - 0.002 * np.abs(s) * most[:, None], axis=1)]
    chosen = np.where(most > 0.2 * np.median(most), chosen, 0.0)  # no edge there: a person's mark, dirt, a highlight
    off = round_smooth(ndimage.median_filter(chosen, 15, mode="wrap"), 2.0)
    return points + off[:, None] * normals


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossing:
    """An outline measured at half light.

    points, normals : (n, 2). ok : (n,) a clear edge. blur_px : (n,) standard deviation of the edge's blur. inner, outer
    : (n, 3) linear light in which the lines fitted either side meet the edge.
    """

    points: Floats
    normals: Floats
    ok: Bools
    blur_px: Floats
    inner: Floats
    outer: Floats

    @property
    def typical_blur_px(self) -> float:
        """The middle one of the blur where the edge is clear."""
        return float(np.clip(np.median(self.blur_px[self.ok]), 0.6, 12.0)) if self.ok.any() else 5.0


def half_light(picture: Bytes8, points: Floats) -> Crossing:
    """The outline at half light, in three rounds; the window read grows with the blur found."""
    found = _measured(picture, evenly(points, STEP_PX), 1.0, rough=True)
    for last in (False, True):
        found = _measured(picture, found.points, found.typical_blur_px, rough=not last)
    return found


def _measured(picture: Bytes8, points: Floats, blur: float, *, rough: bool) -> Crossing:
    skip = float(np.clip(2.6 * blur, 3.0, 18.0))
    reach = float(np.clip(7.0 * blur, 8.0, 40.0))
    s = np.linspace(-reach, reach, 41)
    normals = outward(points)
    seen = round_smooth(profiles(picture, points, normals, s), 1.0)
    inside, outside = s <= -skip, s >= skip
    way = _directions(seen[:, outside].mean(axis=1) - seen[:, inside].mean(axis=1), 6.0)
    light = _along(seen, way)
    inner, outer = _line(light, s, inside), _line(light, s, outside)
    rise = (outer[:, :1] - inner[:, :1]) + (outer[:, 1:] - inner[:, 1:]) * s
    share = (light - inner[:, :1] - inner[:, 1:] * s) / np.maximum(rise, 1e-4)
    off, slope = _half(share, s, skip + 1.0)
    step = np.maximum(outer[:, 0] - inner[:, 0], 1e-4)
    # a highlight at the very edge: inside, the light changes by a good part of the step, or leaves its smoothed line
    bent = np.abs(inner[:, 1]) * skip > _BENT * step
    stray = np.abs((light - inner[:, :1] - inner[:, 1:] * s)[:, inside].mean(axis=1)) > _STRAY * step
    ok = np.isfinite(off) & (np.abs(off) < skip) & (step > 0.35 * np.median(step)) & ~bent & ~stray
    move = np.where(ok, off, 0.0)
    if rough:
        move = round_smooth(ndimage.median_filter(move, 5, mode="wrap"), 1.0)
    ends = [np.stack([_line(seen[:, :, c], s, side)[:, 0] for c in range(3)], axis=1) for side in (inside, outside)]
    return Crossing(
        points=points + move[:, None] * normals,
        normals=normals,
        ok=np.asarray(ok, np.bool_),
        blur_px=1.0 / (math.sqrt(2.0 * math.pi) * np.maximum(slope, 1e-3)),
        inner=ends[0],
        outer=ends[1],
    )


def _directions(step: Floats, sigma: float) -> Floats:
    """(n, 3) unit colours from inside to outside, smoothed along the outline."""
    way = round_smooth(step, sigma)
    return np.asarray(way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-6))


def _along(seen: Light, way: Floats) -> Floats:
    return np.asarray(np.einsum("nmc,nc->nm", seen, way), np.float64)


def _line(light: Floats, s: Floats, part: Bools) -> Floats:
    """(n, 2) level at s = 0 and slope of the straight line through part of each profile, smoothed along the outline."""
    solve = np.linalg.pinv(np.stack([np.ones(int(part.sum())), s[part]], axis=1))
    return round_smooth(np.asarray(light[:, part] @ solve.T, np.float64), 6.0)


def _half(share: Floats, s: Floats, within: float) -> tuple[Floats, Floats]:
    """(n,) the rising crossing of one half that is nearest to s = 0, NaN where there is none; (n,) steepest slope."""
    near = np.abs(s) < within
    u, place, step = share[:, near], s[near], float(s[1] - s[0])
    rising = (u[:, :-1] < 0.5) & (u[:, 1:] >= 0.5)
    first = np.where(rising, np.abs(place[:-1] + step / 2), np.inf).argmin(axis=1)
    row = np.arange(len(u))
    below, above = u[row, first], u[row, first + 1]
    off = place[first] + (0.5 - below) / np.maximum(above - below, 1e-6) * step
    slope = np.gradient(share, s, axis=1)[:, near].max(axis=1)
    return np.where(rising[row, first], off, np.nan), np.asarray(slope)
