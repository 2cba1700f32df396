"""How deep a tool may sink at a place so that no part of it cuts deeper than a field of depth asks anywhere under it.

Takes a tool and the field on a raster of the sheet; gives depths. The tool is let down square to the skin, which is
taken as flat under it: the depth is the least, over all the raster's nodes, of what is asked there and the height of
the tool's form over that node, distances measured on the skin by its metric.
Source: erosion of a function by a structuring function, J. Serra, Image Analysis and Mathematical Morphology (1982).
"""

from dataclasses import dataclass
from math import inf, isfinite, sqrt

import numpy as np

from engine.artwork import Darkness
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.values import Tool
from engine.layout import Layout

__all__ = ["Asked", "asked_depths"]

MOST_NODES = 16_000_000  # 128 MB of depths; larger art has them farther apart
Form4 = tuple[float, float, float, float]  # flat_mm, round_mm (0: no ball), flank (mm a mm) and outer_mm of a tool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Asked:
    """depth_mm : (rows, columns) at nodes low_mm (2,) + step_mm (column, row); nothing is asked beyond them."""

    depth_mm: Floats
    low_mm: Floats
    step_mm: float

    def sunk(self, uv_mm: Floats, layout: Layout, tool: Tool) -> Floats:
        """(n,) depth to which the tool may go at sheet points (n, 2), mm."""
        out = np.zeros(len(uv_mm))
        form = (tool.flat_mm, tool.round_mm, tool.flank, tool.outer_mm)
        points = (uv_mm - self.low_mm) / self.step_mm
        _sink(points, layout.tensor(uv_mm) * self.step_mm**2, self.depth_mm, form, out)
        return out

    def slope(self, across: Floats, scale: float) -> float:
        """The steepest fall of the field along the unit vector `across` (2,), mm a mm of skin; scale : skin a sheet."""
        down, right = np.gradient(self.depth_mm, self.step_mm)
        return float(np.abs(right * across[0] + down * across[1]).max()) / scale


def asked_depths(darkness: Darkness, depth_mm: float, step_mm: float) -> Asked:
    """The share of `depth_mm` that the picture is dark, averaged to cells of `step_mm`, with bare nodes all round."""
    corners = darkness.corners
    low, high = corners.min(axis=0), corners.max(axis=0)
    step = max(step_mm, sqrt(float(np.prod(high - low)) / MOST_NODES))
    columns, rows = (np.ceil((high - low) / step).astype(np.int64) + 5).tolist()
    low = low - 2.0 * step
    u, v = low[0] + step * np.arange(columns), low[1] + step * np.arange(rows)
    places = np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2)
    share = np.clip(darkness.coarser(step).at(places), 0.0, 1.0).reshape(rows, columns)
    return Asked(depth_mm=depth_mm * share, low_mm=low, step_mm=step)


@compiled
def _height(q: float, form: Form4) -> float:
    """Height of the tool's form over its tip, q from its axis; inf beyond it."""
    flat, rounding, flank, outer = form
    if q > outer:
        return inf
    if rounding > 0.0:
        return rounding - sqrt(max(rounding * rounding - q * q, 0.0))
    return 0.0 if q <= flat else flank * (q - flat)


@compiled
def _reach(depth: float, form: Form4) -> float:
    """How far from its axis the form has risen by `depth`."""
    flat, rounding, flank, outer = form
    if rounding > 0.0:
        return rounding if depth >= rounding else sqrt(depth * (2.0 * rounding - depth))
    return min(flat + depth / flank, outer) if isfinite(flank) else outer


@compiled
def _sink(points: Floats, metric: Floats, asked: Floats, form: Form4, out: Floats) -> None:
    """Fill out. points : (n, 2) column and row of a node. metric : (n, 3) E, F, G in mm2 a node's step squared."""
    rows, columns = asked.shape
    for k in range(len(points)):
        u, v = points[k, 0], points[k, 1]
        E, F, G = metric[k, 0], metric[k, 1], metric[k, 2]
        i, j = int(np.floor(v)), int(np.floor(u))
        if not (0 <= i < rows - 1 and 0 <= j < columns - 1):
            continue
        a, b = v - i, u - j
        best = (1.0 - a) * ((1.0 - b) * asked[i, j] + b * asked[i, j + 1])
        best += a * ((1.0 - b) * asked[i + 1, j] + b * asked[i + 1, j + 1])
        reach = _reach(best, form)
        area = E * G - F * F
        wide, high = reach * sqrt(G / area), reach * sqrt(E / area)
        for row in range(int(np.ceil(v - high)), int(np.floor(v + high)) + 1):
            for column in range(int(np.ceil(u - wide)), int(np.floor(u + wide)) + 1):
                du, dv = column - u, row - v
                q = sqrt(max(E * du * du + 2.0 * F * du * dv + G * dv * dv, 0.0))
                if q <= reach:
                    here = asked[row, column] if 0 <= row < rows and 0 <= column < columns else 0.0
                    best = min(best, here + _height(q, form))
        out[k] = best
