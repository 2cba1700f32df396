"""Art that lies over other art on the blank: where, and over how much of the skin.

Takes the placed pieces and their patches; gives `art-overlaps` findings. Where the boxes of two pieces meet, a net of
places on the skin is asked of both. Pieces of one and the same source at one and the same place, marked otherwise, are
meant to lie on each other: that is a note.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import degrees

import numpy as np
from scipy.ndimage import binary_opening, distance_transform_edt

from engine.artwork import LIGHTEST
from engine.blank import metric
from engine.job import Item
from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.outcome.art_raster import ArtRaster, Patch, art_raster
from engine.outcome.preview import Placed

__all__ = ["overlapping"]

STEP_MM = 0.05  # between the places that are asked: a cell of the art's own raster
MOST_PLACES = 600_000  # of one meeting of two boxes: over 1,500 mm2 the net is coarser, and may miss a thin line
TOUCH_MM = 0.15  # art that lies on art over less than so much of its width is art that meets edge to edge
FEWEST = 2  # places across, however coarse the net


@dataclass(frozen=True, slots=True, kw_only=True)
class _Meeting:
    """Two pieces on each other: how much of the skin, and the place that lies deepest within both."""

    area_mm2: float
    deep: float
    x_mm: float
    theta_rad: float


def overlapping(placed: Sequence[Placed], patches: Sequence[Patch]) -> list[Finding]:
    """One finding for each two pieces of the document, or copies of one, that lie on each other."""
    rasters: dict[int, ArtRaster] = {}
    reach = [_reach(patch) for patch in patches]
    met: dict[tuple[int, int], list[tuple[Item, Item, list[_Meeting]]]] = {}
    for i, j in combinations(range(len(placed)), 2):
        one, two = placed[i].item, placed[j].item
        if one.index == two.index and one.fits:
            continue  # copies fitted once round meet edge to edge, and what they do not is told
        if _same_art(one, two):
            met.setdefault((one.index, two.index), []).append((one, two, []))
            continue
        boxes = _common(reach[i], reach[j])
        found = [place for box in boxes for place in _meet((i, j), patches, rasters, box)]
        if found:
            met.setdefault((one.index, two.index), []).append((one, two, found))
    return [_told(pairs) for pairs in met.values()]


_Reach = tuple[tuple[float, float], tuple[float, float]]  # (least, greatest) x mm and theta rad


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """Where the boxes of two patches meet. theta_rad : as the first counts it; the second's are `behind_rad` less."""

    x_mm: tuple[float, float]
    theta_rad: tuple[float, float]
    behind_rad: float


def _common(a: _Reach, b: _Reach) -> list[_Box]:
    """Every stretch of the skin that two pieces may both reach."""
    (a_low, a_high), (a_from, a_to) = a
    (b_low, b_high), (b_from, b_to) = b
    low, high = max(a_low, b_low), min(a_high, b_high)
    if not low < high:
        return []
    boxes = []
    for turn in range(int(np.floor((a_from - b_to) / TURN_RAD)), int(np.ceil((a_to - b_from) / TURN_RAD)) + 1):
        left = max(a_from, b_from + TURN_RAD * turn)
        right = min(a_to, b_to + TURN_RAD * turn, left + TURN_RAD)
        if left < right:
            boxes.append(_Box(x_mm=(low, high), theta_rad=(left, right), behind_rad=TURN_RAD * turn))
    return boxes


def _reach(patch: Patch) -> _Reach:
    """The box of what is cut, with half the width of its lines about it."""
    skin, beside = patch.layout.skin, 0.5 * patch.band_mm
    low, high = (max(patch.x_mm[0] - beside, skin.x_range_mm[0]), min(patch.x_mm[1] + beside, skin.x_range_mm[1]))
    least_r = float(skin.radius(np.linspace(*patch.x_mm, 17), np.full(17, patch.theta_rad[0])).min())
    turn = beside / max(least_r, beside)
    return (low, high), (patch.theta_rad[0] - turn, patch.theta_rad[1] + turn)


def _meet(pair: tuple[int, int], patches: Sequence[Patch], rasters: dict[int, ArtRaster], box: _Box) -> list[_Meeting]:
    """Where both pieces have art within a box; none where they only touch."""
    skin, (x0, x1), (t0, t1) = patches[pair[0]].layout.skin, box.x_mm, box.theta_rad
    radius = float(skin.radius(np.linspace(x0, x1, 17)[:, None], np.linspace(t0, t1, 17)[None, :]).max())
    step = max(STEP_MM, float(np.sqrt((x1 - x0) * (t1 - t0) * radius / MOST_PLACES)))
    nx, nt = (max(FEWEST, int(np.ceil(size / step))) for size in (x1 - x0, (t1 - t0) * radius))
    x, theta = (low + (np.arange(n) + 0.5) * (high - low) / n for low, high, n in ((x0, x1, nx), (t0, t1, nt)))
    grid_x, grid_theta = (grid.ravel() for grid in np.meshgrid(x, theta, indexing="ij"))
    both = np.ones(len(grid_x), np.bool_)
    for k, behind in zip(pair, (0.0, box.behind_rad), strict=True):
        both[both] = _has_art(k, patches[k], rasters, grid_x[both], grid_theta[both] - behind)
    field = both.reshape(nx, nt)
    across = max(FEWEST, int(np.ceil(TOUCH_MM / step)))
    if not binary_opening(np.pad(field, across), np.ones((across, across), np.bool_)).any():
        return []
    E, F, G = metric(skin.radius(grid_x[both], grid_theta[both]), *skin.slopes(grid_x[both], grid_theta[both]))
    area = float(np.sqrt(E * G - F * F).sum()) * (x1 - x0) / nx * (t1 - t0) / nt
    within = distance_transform_edt(np.pad(field, 1))[1:-1, 1:-1]
    # Of places that lie as deep in both, give or take one, the one in the middle.
    rows, columns = np.nonzero(within >= within.max() - 1.0)
    k = int(np.argmin(np.hypot(rows - rows.mean(), columns - columns.mean()).round(6)))
    i, j = rows[k], columns[k]
    return [_Meeting(area_mm2=area, deep=float(within[i, j]) * step, x_mm=float(x[i]), theta_rad=float(theta[j]))]


def _has_art(number: int, patch: Patch, rasters: dict[int, ArtRaster], x: Floats, theta: Floats) -> Bools:
    """(n,) whether a piece has something to cut at each place of the skin."""
    uv = patch.layout.unwrap(x, theta)
    if patch.drawing.darkness is not None:
        return np.asarray(patch.drawing.darkness.at(uv) > LIGHTEST)
    if number not in rasters:
        rasters[number] = art_raster(patch)
    return np.asarray(rasters[number].at(uv) > 0.0)


def _told(pairs: list[tuple[Item, Item, list[_Meeting]]]) -> Finding:
    """What is told of two pieces of the document, all their copies together."""
    one, two, _ = pairs[0]
    if all(_same_art(a, b) for a, b, _ in pairs):
        message = f"{one.called} and {two.called} are the same art at the same place, marked in two ways"
        where = Where(pointer=f"/artwork/{two.index}")
        return Finding(severity=Severity.NOTE, code="art-overlaps", message=message, where=where)
    places = [place for _, _, found in pairs for place in found]
    deepest = max(places, key=lambda place: (round(place.deep, 6), -place.x_mm))
    area = sum(place.area_mm2 for place in places)
    names = f"copies of {one.called} lie" if one.index == two.index else f"{one.called} and {two.called} lie"
    message = f"{names} on each other over {area:.3g} mm2 of the skin"
    if len(pairs) > 1:
        message += f", at {len(pairs)} pairs of copies"
    message += f"; most of all at x {deepest.x_mm:.1f}, angle {degrees(deepest.theta_rad) % 360.0:.1f} deg"
    where = Where.on_skin(deepest.x_mm, deepest.theta_rad, pointer=f"/artwork/{two.index}")
    advice = "move one, or make it smaller, unless it is meant to be cut twice there"
    return Finding(severity=Severity.WARNING, code="art-overlaps", message=message, where=where, advice=advice)


def _same_art(one: Item, two: Item) -> bool:
    """Whether two pieces are the same art at the same place."""
    return one.index != two.index and all(
        getattr(one, part) == getattr(two, part) for part in ("asset", "text", "border", "around", "placement")
    )
