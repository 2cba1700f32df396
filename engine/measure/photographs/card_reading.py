"""Reading a photograph of the printed card: the middles of its dots, and which dot each one is."""

from collections import deque
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from scipy import ndimage
from scipy.spatial import KDTree

from engine.kernel.arrays import Bools, Bytes8, Floats, Ints, frozen_floats, frozen_ints
from engine.kernel.errors import BlankError
from engine.measure.photographs.card import LARGE
from engine.measure.photographs.lab import LINEAR, reduced

__all__ = ["CardView", "read_card"]

_SMALL_PX = 1600
_LEAST_DOTS = 40
"""Eight numbers of the view's map and two of the lens want many times as many dots."""
_HINT = "let the whole middle of the card be seen, sharp, in even light, without glare, printed large enough"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CardView:
    """points_px (n, 2) middles of dots; index (n, 2) their column and row from the first larger dot; size_px (w, h)."""

    points_px: Floats
    index: Ints
    size_px: tuple[int, int]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points_px", frozen_floats(self.points_px))
        object.__setattr__(self, "index", frozen_ints(self.index))


def read_card(picture: Bytes8) -> CardView:
    """The dots of the card in one photograph (h, w, 3) uint8, sub-pixel.

    Raises
    ------
    BlankError : no card, too little of it, or its larger dots are not all seen; the hint says what to do.
    """
    if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8 or min(picture.shape[:2]) < 200:
        raise BlankError("not a photograph of at least 200 x 200 pixels in colour", hint=_HINT)
    h, w, _ = picture.shape
    k = max(1, round(max(h, w) / _SMALL_PX))
    places, areas = _round_spots(LINEAR[reduced(picture, k)] @ np.full(3, 1.0 / 3.0))
    if len(places) < _LEAST_DOTS:
        raise BlankError(f"{len(places)} round dots are no card", hint=_HINT)
    index, steps = _indexed(places, areas)
    if len(index) < _LEAST_DOTS:
        raise BlankError(f"only {len(index)} of the card's dots were found beside each other", hint=_HINT)
    order = sorted(index, key=lambda i: (index[i][1], index[i][0]))
    middles = np.array([_middle(picture, places[i] * k, steps[i] * k) for i in order])
    good = np.isfinite(middles).all(axis=1)
    if good.sum() < _LEAST_DOTS:
        raise BlankError(f"only {int(good.sum())} of the card's dots are clear", hint=_HINT)
    return CardView(points_px=middles[good], index=np.array([index[i] for i in order])[good], size_px=(w, h))


def _round_spots(light: Floats) -> tuple[Floats, Floats]:
    """(n, 2) places and (n,) areas, px, of dark spots of elliptic form in (h, w) light."""
    labels, count = ndimage.label(ndimage.gaussian_filter(light, 0.7) < 0.5 * _paper_light(light))
    if not count:
        return np.zeros((0, 2)), np.zeros(0)
    flat = labels.ravel()
    y, x = np.divmod(np.flatnonzero(flat), light.shape[1])
    of = flat[flat > 0]
    area = np.bincount(of, minlength=count + 1).astype(np.float64)
    area[0] = 1.0
    mx, my = np.bincount(of, x, count + 1) / area, np.bincount(of, y, count + 1) / area
    dx, dy = x - mx[of], y - my[of]
    xx, yy, xy = (
        np.bincount(of, v, count + 1) / area + e for v, e in ((dx * dx, 1 / 12), (dy * dy, 1 / 12), (dx * dy, 0))
    )
    # a filled ellipse covers 4 pi sqrt(det of its second moments)
    fill = area / (4 * np.pi * np.sqrt(np.maximum(xx * yy - xy * xy, 1e-9)))
    lean = (xx + yy - np.hypot(xx - yy, 2 * xy)) / (xx + yy + np.hypot(xx - yy, 2 * xy))
    good = (area >= 12) & (np.abs(fill - 1.0) < 0.15) & (lean > 0.08) & (area < 0.01 * light.size)
    edge = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    good[edge] = False
    good[0] = False
    return np.stack([mx[good] + 0.5, my[good] + 0.5], axis=1), area[good]


def _paper_light(light: Floats) -> Floats:
    """(h, w) light of the paper round about: the brightest near, smoothed; slow, so found on every 8th pixel."""
    span = max(light.shape) // 80
    coarse = ndimage.gaussian_filter(ndimage.maximum_filter(light[4::8, 4::8], span), span / 2)
    rows = np.minimum(np.arange(light.shape[0]) // 8, coarse.shape[0] - 1)
    columns = np.minimum(np.arange(light.shape[1]) // 8, coarse.shape[1] - 1)
    return np.asarray(coarse[rows[:, None], columns])


def _indexed(places: Floats, areas: Floats) -> tuple[dict[int, tuple[int, int]], dict[int, Floats]]:
    """Column and row of each dot that the grid reaches, and its local steps (2, 2): one column, one row."""
    tree = KDTree(places)
    near = np.asarray(tree.query(places, k=7)[1])
    large = np.flatnonzero(areas > 1.7 * np.median(areas[near[:, 1:]], axis=1))
    if len(large) > 12:
        raise BlankError("too many larger dots", hint=_HINT)
    best: tuple[dict[int, tuple[int, int]], dict[int, Floats]] = ({}, {})
    for o, x, y in permutations(large.tolist(), 3):
        steps = np.stack([(places[x] - places[o]) / LARGE[1][0], (places[y] - places[o]) / LARGE[2][1]])
        if steps[0, 0] * steps[1, 1] - steps[0, 1] * steps[1, 0] <= 0.0:
            continue  # seen from behind: no photograph does that
        between = places[o] + np.array([[1, 0], [0, 1], [0, 2], [1, 1]]) @ steps
        if (tree.query(between)[0] > 0.25 * np.hypot(*steps.T).min()).any():
            continue
        found = _grown(places, tree, o, steps)
        if len(found[0]) > len(best[0]) and found[0].get(x) == LARGE[1] and found[0].get(y) == LARGE[2]:
            best = found
    if not best[0]:
        raise BlankError("the three larger dots of the card were not found", hint=_HINT)
    return best


def _grown(
    places: Floats, tree: KDTree, first: int, steps: Floats
) -> tuple[dict[int, tuple[int, int]], dict[int, Floats]]:
    """The grid from the first dot outwards, each step as the dots before it stood."""
    index, local = {first: (0, 0)}, {first: steps}
    taken = {(0, 0)}
    queue = deque([first])
    while queue:
        at = queue.popleft()
        for axis, sign in ((0, 1), (0, -1), (1, 1), (1, -1)):
            cell = (index[at][0] + sign * (axis == 0), index[at][1] + sign * (axis == 1))
            if cell in taken:
                continue
            step = sign * local[at][axis]
            off, there = tree.query(places[at] + step)
            if off > 0.25 * np.hypot(*step) or int(there) in index:
                continue
            moved = local[at].copy()
            moved[axis] = sign * (places[there] - places[at])
            index[int(there)], local[int(there)] = cell, moved
            taken.add(cell)
            queue.append(int(there))
    return index, local


def _middle(picture: Bytes8, place: Floats, steps: Floats) -> Floats:
    """(2,) centre of gravity of the darkness about one dot, NaN where the picture ends or nothing is dark there.

    The paper is a plane of light fitted round the dot: uneven light does not move it.
    """
    reach = np.ceil(0.5 * np.abs(steps).sum(axis=0)).astype(np.int64) + 1
    x0, y0 = np.floor(place).astype(np.int64) - reach
    x1, y1 = np.floor(place).astype(np.int64) + reach + 1
    if x0 < 0 or y0 < 0 or x1 > picture.shape[1] or y1 > picture.shape[0]:
        return np.full(2, np.nan)
    light = LINEAR[picture[y0:y1, x0:x1]] @ np.full(3, 1.0 / 3.0)
    y, x = np.mgrid[y0:y1, x0:x1] + 0.5
    grid = np.stack([x - place[0], y - place[1]], axis=-1)
    far = np.sqrt(((grid @ np.linalg.inv(steps)) ** 2).sum(axis=-1))
    ring: Bools = (far > 0.42) & (far < 0.5)
    terms = np.concatenate([np.ones((*far.shape, 1)), grid], axis=-1)
    plane = np.linalg.lstsq(terms[ring], light[ring], rcond=None)[0]
    # shading scales what the dot reflects too: darkness is a share of the paper's light
    dark = np.where(far < 0.46, 1.0 - light / np.maximum(terms @ plane, 1e-3), 0.0)
    total = float(dark.sum())
    if total < 0.2 * float((far < 0.2).sum()):
        return np.full(2, np.nan)
    return np.asarray(place + (grid * dark[..., None]).sum(axis=(0, 1)) / total)
