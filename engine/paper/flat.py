"""A skin as pieces of paper: a sleeve where one lies flat all round, else strips along the axis.

Takes a skin; gives `Flat`s. A cylinder or a cone unrolls without a stretch. Any other skin is parted in gores: in each,
lengths along its middle meridian and along every parallel are true; its edges are a little longer than the skin's, and
there are so many that it is by no more than EDGE_MM. Source: gores of a globe, as in any work on map printing (common
practice); a developable surface by its own plane.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RectBivariateSpline

from engine.blank import Cone, Cylinder, Skin
from engine.kernel.arrays import Floats
from engine.layout import Placement, Projection, lay_out

__all__ = ["Flat", "flats_of"]

EDGE_MM = 0.3  # paper of 0.1 mm gives so much without a fold over the length of a blank (common practice, no source)
LEAST_GORES, MOST_GORES = 6, 48
STATIONS, COLUMNS = 401, 17
OUTLINE_MM = 1.0  # along the axis, from point to point of an outline


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """One piece of paper. outline : (n, 2) mm, closed. theta_rad : from and to; x_mm likewise. on_paper : x_mm and
    theta_rad (n,) within them -> (n, 2) mm, right for +theta and up for +x at its middle. edge_mm : by how much its
    longest edge is longer than the skin there.
    """

    outline: Floats
    x_mm: tuple[float, float]
    theta_rad: tuple[float, float]
    on_paper: Callable[[Floats, Floats], Floats]
    edge_mm: float

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least and greatest right and up: left, bottom, right, top."""
        low, high = self.outline.min(axis=0), self.outline.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def flats_of(skin: Skin, seam_rad: float) -> list[Flat]:
    """The pieces of paper for a skin, from the seam once round: one where it unrolls, else gores side by side."""
    if isinstance(skin, Cylinder | Cone):
        return [_sleeve(skin, seam_rad)]
    for count in range(LEAST_GORES, MOST_GORES + 1, 2):
        first = _gore(skin, seam_rad, count, 0)
        if first.edge_mm > EDGE_MM:
            continue
        gores = [first, *(_gore(skin, seam_rad, count, k) for k in range(1, count))]
        if max(gore.edge_mm for gore in gores) <= EDGE_MM:
            return gores
    return [_gore(skin, seam_rad, MOST_GORES, k) for k in range(MOST_GORES)]


def _sleeve(skin: Skin, seam_rad: float) -> Flat:
    low, high = skin.x_range_mm
    middle = seam_rad + math.pi
    layout = lay_out(
        skin, Placement(x_mm=0.5 * (low + high), angle_deg=math.degrees(middle), projection=Projection.DEVELOPED)
    )

    def on_paper(x: Floats, theta: Floats) -> Floats:
        return layout.unwrap(x, theta)

    return _cut_out(on_paper, (low, high), (middle - math.pi, middle + math.pi), skin)


def _gore(skin: Skin, seam_rad: float, count: int, k: int) -> Flat:
    """Strip k of `count`, from the seam on towards +theta."""
    low, high = skin.x_range_mm
    half = math.pi / count
    middle = seam_rad + (2 * k + 1) * half
    x = np.linspace(low, high, STATIONS)
    theta = np.linspace(middle - half, middle + half, COLUMNS)
    up = _meridian(skin, x, middle)
    grid_x, grid_theta = np.meshgrid(x, theta, indexing="ij")
    r = skin.radius(grid_x.ravel(), grid_theta.ravel()).reshape(grid_x.shape)
    _, around = skin.slopes(grid_x.ravel(), grid_theta.ravel())
    speed = np.sqrt(r**2 + around.reshape(r.shape) ** 2)
    steps = 0.5 * (speed[:, 1:] + speed[:, :-1]) * (theta[1] - theta[0])
    right = np.concatenate([np.zeros((STATIONS, 1)), np.cumsum(steps, axis=1)], axis=1)
    right -= right[:, COLUMNS // 2 : COLUMNS // 2 + 1]
    table = RectBivariateSpline(x, theta, right, kx=3, ky=3, s=0)

    def on_paper(x_mm: Floats, theta_rad: Floats) -> Floats:
        return np.stack([table.ev(x_mm, theta_rad), np.interp(x_mm, x, up)], axis=1)

    return _cut_out(on_paper, (low, high), (middle - half, middle + half), skin)


def _meridian(skin: Skin, x: Floats, theta: float) -> Floats:
    """(n,) mm along the skin from the middle station, at an angle: chords, so that a pole's endless slope counts."""
    r = skin.radius(x, np.full(len(x), theta))
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(r)))])
    return np.asarray(way - way[len(x) // 2])


def _cut_out(
    on_paper: Callable[[Floats, Floats], Floats],
    x_mm: tuple[float, float],
    theta_rad: tuple[float, float],
    skin: Skin,
) -> Flat:
    """The piece with its outline, and how much longer its edges are than the skin under them."""
    n = max(2, math.ceil((x_mm[1] - x_mm[0]) / OUTLINE_MM)) + 1
    up = np.linspace(*x_mm, n)
    across = np.linspace(*theta_rad, 65)
    sides = [
        (np.full(65, x_mm[0]), across),
        (up, np.full(n, theta_rad[1])),
        (np.full(65, x_mm[1]), across[::-1]),
        (up[::-1], np.full(n, theta_rad[0])),
    ]
    outline = np.concatenate([on_paper(x, theta) for x, theta in sides])
    longer = 0.0
    fine = np.linspace(*x_mm, STATIONS)
    for theta in theta_rad:
        edge = np.linalg.norm(np.diff(on_paper(fine, np.full(STATIONS, theta)), axis=0), axis=1).sum()
        longer = max(longer, float(edge - np.ptp(_meridian(skin, fine, theta))))
    return Flat(outline=outline, x_mm=x_mm, theta_rad=theta_rad, on_paper=on_paper, edge_mm=longer)
