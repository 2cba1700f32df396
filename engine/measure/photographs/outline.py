"""Closed outlines: the rough one of a body, even steps along it, its outward normals, and smoothing round it.

A closed outline is (n, 2) picture points (pixel corners at integers, y down) without the first one repeated.
"""

from typing import Any

import contourpy
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from engine.kernel.arrays import Bools, Floats
from engine.measure.photographs.body import Body

__all__ = ["corners", "evenly", "outward", "rough_outline", "round_smooth"]


def rough_outline(body: Body, k: int) -> Floats:
    """Contour of the body at its threshold, closed along the picture's border where the body leaves it.

    Where a person took a region in or out the mask itself is followed, there is no threshold to cross.
    """
    mask = body.mask
    far = np.where(ndimage.binary_dilation(mask, iterations=2), body.distance, 0.0)
    far = np.where(ndimage.binary_erosion(mask, iterations=2), np.maximum(far, 1.5 * body.threshold), far)
    said = ndimage.binary_dilation((body.distance > body.threshold) != mask, iterations=2)
    soft = ndimage.gaussian_filter(mask.astype(np.float64), 0.7) * 2.0 * body.threshold
    far = np.pad(np.where(said, soft, far), 1)
    lines = contourpy.contour_generator(z=far, name="serial").lines(body.threshold)
    longest: Floats = max((np.asarray(line) for line in lines), key=lambda line: abs(_area(line)))
    # the middle of small pixel i lies at (i + 0.5) k, and the pad counts one more
    return np.asarray((longest[:-1] - 0.5) * k, np.float64)


def _area(points: Floats) -> float:
    """Signed area, px^2; positive where the inside lies to the left in a picture whose y runs down."""
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def round_smooth(values: NDArray[Any], sigma: float) -> NDArray[Any]:
    """Gaussian smoothing along the first axis, round the ring."""
    return np.asarray(ndimage.gaussian_filter1d(values, sigma, axis=0, mode="wrap"))


def evenly(points: Floats, step: float) -> Floats:
    """The outline at even steps of about `step` px, at least 16 of them."""
    ring = np.vstack([points, points[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    count = max(16, int(along[-1] / step))
    at = np.arange(count) * along[-1] / count
    return np.stack([np.interp(at, along, ring[:, 0]), np.interp(at, along, ring[:, 1])], axis=1)


def outward(points: Floats) -> Floats:
    """(n, 2) unit normals that point out of the body, smoothed over a few points."""
    smooth = round_smooth(points, 3.0)
    along = np.roll(smooth, -1, axis=0) - np.roll(smooth, 1, axis=0)
    along /= np.maximum(np.hypot(along[:, :1], along[:, 1:]), 1e-9)
    side = 1.0 if _area(points) > 0 else -1.0
    return np.stack([side * along[:, 1], -side * along[:, 0]], axis=1)


def corners(points: Floats, span: int, turn_rad: float) -> Bools:
    """(n,) True where the outline turns by more than `turn_rad` between the `span` steps before and after."""
    before = points - np.roll(points, span, axis=0)
    after = np.roll(points, -span, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.abs(np.arctan2(cross, (before * after).sum(axis=1))) > turn_rad)
