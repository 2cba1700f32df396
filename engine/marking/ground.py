"""The skin's metric under a piece of art, sampled once on a net over the sheet and interpolated between its nodes.

Offsets ask for the metric at every point of every ring; a layout that has to look for its skin along a ray could not
give so many answers in time.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.ndimage import distance_transform_edt

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.compiled import compiled
from engine.layout import Layout

__all__ = ["Ground", "Net", "metric_at"]

FINEST_MM = 0.25  # a thirtieth of the shortest bump that calliper or probe would find
MOST_NODES = 60_000  # 61 mm square at FINEST_MM, larger art has them farther apart
EVEN = 1e-9  # a metric that changes by no more is one number


class Net(NamedTuple):
    """The net as compiled loops take it; fields as of `Ground`."""

    low_mm: Floats
    step_mm: float
    tensor: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """low_mm : (2,) the net's least corner. tensor : (rows, columns, 3) E, F, G at its nodes, step_mm apart.

    is_even : the metric is the same all over, and then the net is of one cell.
    """

    low_mm: Floats
    step_mm: float
    tensor: Floats
    is_even: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "low_mm", frozen_floats(self.low_mm))
        object.__setattr__(self, "tensor", frozen_floats(self.tensor))

    @classmethod
    def under(cls, layout: Layout, places_mm: Floats, room_mm: float) -> "Ground":
        """The metric over the box of `places_mm` (n, 2) and `room_mm` around it.

        Where the layout holds no skin the nearest node that it does hold stands in.
        """
        low, high = places_mm.min(axis=0) - room_mm, places_mm.max(axis=0) + room_mm
        step = max(FINEST_MM, float(np.sqrt(np.prod(high - low) / MOST_NODES)))
        columns, rows = (np.ceil((high - low) / step).astype(np.int64) + 1).tolist()
        u, v = np.meshgrid(low[0] + step * np.arange(columns), low[1] + step * np.arange(rows))
        uv = np.stack([u.ravel(), v.ravel()], axis=1)
        held = layout.holds(uv)
        if not held.any():
            uv, held = np.concatenate([uv, places_mm[:1]]), np.append(held, True)
        tensor = np.zeros((len(uv), 3))
        tensor[held] = layout.tensor(uv[held])
        least, greatest = tensor[held].min(axis=0), tensor[held].max(axis=0)
        if (greatest - least).max() < EVEN:
            return cls(low_mm=low, step_mm=1e9, tensor=np.tile(tensor[held][0], (2, 2, 1)), is_even=True)
        net, known = tensor[: rows * columns].reshape(rows, columns, 3), held[: rows * columns].reshape(rows, columns)
        if not known.all():
            i, j = distance_transform_edt(~known, return_distances=False, return_indices=True)
            net = net[i, j]
        return cls(low_mm=low, step_mm=step, tensor=net, is_even=False)

    @property
    def net(self) -> Net:
        """For compiled loops."""
        return Net(self.low_mm, self.step_mm, self.tensor)

    def at(self, uv_mm: Floats) -> Floats:
        """(n, 3): E, F, G at sheet points (n, 2); outside the net those of its edge."""
        out = np.zeros((len(uv_mm), 3))
        _all_at(np.ascontiguousarray(uv_mm, np.float64), self.net, out)
        return out

    def scale(self, uv_mm: Floats) -> Floats:
        """(n,) mm on the skin for a mm of the sheet, over all directions: the root of what an area grows by."""
        E, F, G = self.at(uv_mm).T
        return np.sqrt(np.sqrt(np.maximum(E * G - F * F, 0.0)))

    def length(self, from_mm: Floats, to_mm: Floats) -> Floats:
        """(n,) mm on the skin of straight ways on the sheet, short enough that the metric at their middle will do."""
        (E, F, G), (u, v) = self.at(0.5 * (from_mm + to_mm)).T, (to_mm - from_mm).T
        return np.sqrt(E * u * u + 2.0 * F * u * v + G * v * v)


@compiled
def metric_at(u: float, v: float, net: Net) -> tuple[float, float, float]:
    """E, F, G at one sheet point, bilinear between the nodes."""
    t = net.tensor
    rows, columns = t.shape[0], t.shape[1]
    x = min(max((u - net.low_mm[0]) / net.step_mm, 0.0), columns - 1.0)
    y = min(max((v - net.low_mm[1]) / net.step_mm, 0.0), rows - 1.0)
    j, i = min(int(x), columns - 2), min(int(y), rows - 2)
    a, b = x - j, y - i
    p, q, r, s = (1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b
    return (
        p * t[i, j, 0] + q * t[i, j + 1, 0] + r * t[i + 1, j, 0] + s * t[i + 1, j + 1, 0],
        p * t[i, j, 1] + q * t[i, j + 1, 1] + r * t[i + 1, j, 1] + s * t[i + 1, j + 1, 1],
        p * t[i, j, 2] + q * t[i, j + 1, 2] + r * t[i + 1, j, 2] + s * t[i + 1, j + 1, 2],
    )


@compiled
def _all_at(uv: Floats, net: Net, out: Floats) -> None:
    for k in range(len(uv)):
        out[k, 0], out[k, 1], out[k, 2] = metric_at(uv[k, 0], uv[k, 1], net)
