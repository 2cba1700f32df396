"""A skin that stands otherwise than when it was measured: r'(x', theta') of the moved body, and where its spots went.

Takes a skin and a `Motion`; each ray square to the new axis is met with the old skin, the outermost meeting counts.
Where the ray leaves the stations that are known, the end is continued smoothly and the place is not known. Two
meetings of a ray nearer to each other than SCAN_MM may be missed together.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.units import TURN_RAD
from engine.measure.chucking.continued import FADE_MM, Continued, Local
from engine.measure.chucking.motion import Motion

__all__ = ["Met", "Moved", "filled", "meet", "moved_place", "moved_skin"]

SCAN_MM = 0.5  # a ray is looked along in steps of this before its meeting is refined
LEAST_STEPS, MOST_STEPS = 8, 120
ROUNDS = 60  # of Newton or halving: halving alone takes 50 from 1 mm to the last bit
SAME_MM = 1e-3  # a meeting this far beyond an end is on it: far less than a station is known to
LEAST_MM = 1e-6  # a radius where a ray meets nothing
TABLE = (257, 96)  # stations and angles at which the skin's bounds are looked up
BEYOND_MM = 4 * FADE_MM  # by then a continued end runs level
SPARE = 0.02  # of the radius, added to those bounds: what may stand between the table's places


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Met:
    """Where rays meet the moved skin: all (k,).

    radius_mm on the new axis's rays. known: it lies within the old skin's stations. old_x_mm, old_theta_rad: the same
    spot on the old skin. per_x, per_theta: r's slopes along x' (mm/mm) and theta' (mm/rad).
    """

    radius_mm: Floats
    known: Bools
    old_x_mm: Floats
    old_theta_rad: Floats
    per_x: Floats
    per_theta: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Points start + rho direction, (k, 3) each, in the old frame."""

    start: Floats
    direction: Floats

    def at(self, rho: Floats, on: Ints | slice = slice(None)) -> Floats:
        points: Floats = self.start[on] + rho[:, None] * self.direction[on]
        return points


def meet(skin: Skin, motion: Motion, x_mm: Floats, theta_rad: Floats) -> Met:
    """The rays at (x', theta'), (k,) each, with the moved skin."""
    body = Continued(skin)
    theta = np.asarray(theta_rad, np.float64)
    across = np.stack([np.zeros_like(theta), np.cos(theta), np.sin(theta)], axis=-1)
    at_axis = np.stack([np.asarray(x_mm, np.float64), np.zeros_like(theta), np.zeros_like(theta)], axis=-1)
    rays = _Rays(motion.back(at_axis), across @ motion.rotation)
    inner, outer, found = _brackets(body, rays)
    rho = _refined(body, rays, inner, outer, found)
    spot = rays.at(rho)
    local = body.at(spot[:, 0], np.arctan2(spot[:, 2], spot[:, 1]))
    slope = local.gradient(spot)
    per_rho = (slope * rays.direction).sum(axis=1)
    per_rho = np.where(np.abs(per_rho) > 1e-6, per_rho, 1e-6)  # a ray along the skin: steep, yet finite
    aside = np.stack([np.zeros_like(theta), -np.sin(theta), np.cos(theta)], axis=-1) @ motion.rotation
    x0, x1 = skin.x_range_mm
    inside = (spot[:, 0] >= x0 - SAME_MM) & (spot[:, 0] <= x1 + SAME_MM)
    return Met(
        radius_mm=rho,
        known=found & inside,
        old_x_mm=spot[:, 0],
        old_theta_rad=np.arctan2(spot[:, 2], spot[:, 1]),
        per_x=-(slope @ motion.rotation[0]) / per_rho,
        per_theta=-rho * (slope * aside).sum(axis=1) / per_rho,
    )


def moved_skin(skin: Skin, motion: Motion, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Bools]:
    """(m, n) radii of the moved skin at stations (m,) and angles (n,) of the new frame, and where they are known.

    Not known: the ray meets the body beyond the stations of the old skin, or not at all. There the value is the end
    continued smoothly; a ray that meets nothing takes the value of the nearest station under the same angle.
    """
    m, n = len(x_mm), len(theta_rad)
    met = meet(skin, motion, np.repeat(x_mm, n), np.tile(theta_rad, m))
    radius, known = met.radius_mm.reshape(m, n), met.known.reshape(m, n)
    return filled(radius), known


def moved_place(skin: Skin, motion: Motion, x_mm: float, angle_deg: float) -> tuple[float, float]:
    """Where the spot (x, angle) of the old skin now is on the machine, mm and degrees in [0, 360).

    Art laid there is laid on the same spot of the blank.
    """
    theta = np.radians(angle_deg)
    r = float(skin.radius(np.array([x_mm]), np.array([theta]))[0])
    x, y, z = motion.moved(np.array([x_mm, r * np.cos(theta), r * np.sin(theta)])).tolist()
    return x, float(np.degrees(np.arctan2(z, y)) % 360.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moved:
    """A skin as it stands after `motion`: itself a skin, exact wherever the old one is known."""

    skin: Skin
    motion: Motion

    @property
    def x_range_mm(self) -> tuple[float, float]:
        """Where the ends of the old axis have gone."""
        ends = self.motion.moved(np.array([[x, 0.0, 0.0] for x in self.skin.x_range_mm]))[:, 0]
        return float(ends.min()), float(ends.max())

    @property
    def sigma_mm(self) -> float:
        """The old skin's."""
        return self.skin.sigma_mm

    @property
    def is_round(self) -> bool:
        """Only where the axis stayed."""
        m = self.motion
        on_axis = m.offset_y_mm == 0.0 == m.offset_z_mm
        return self.skin.is_round and on_axis and m.tilt_y_rad == 0.0 == m.tilt_z_rad

    def radius(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """r', mm; next to nothing where the ray misses the body."""
        shape, met = self._met(x_mm, theta_rad)
        return np.maximum(met.radius_mm, LEAST_MM).reshape(shape)

    def slopes(self, x_mm: Floats, theta_rad: Floats) -> tuple[Floats, Floats]:
        """(dr'/dx', dr'/dtheta'), mm/mm and mm/rad."""
        shape, met = self._met(x_mm, theta_rad)
        return met.per_x.reshape(shape), met.per_theta.reshape(shape)

    def _met(self, x_mm: Floats, theta_rad: Floats) -> tuple[tuple[int, ...], Met]:
        x, theta = np.broadcast_arrays(x_mm, theta_rad)
        return x.shape, meet(self.skin, self.motion, x.ravel(), theta.ravel())


def _outside(body: Continued, points: Floats) -> tuple[Floats, Local]:
    """How far points (k, 3) stand over the skin along the old radius, and the skin under them."""
    local = body.at(points[:, 0], np.arctan2(points[:, 2], points[:, 1]))
    return np.hypot(points[:, 1], points[:, 2]) - local.r, local


def _brackets(body: Continued, rays: _Rays) -> tuple[Floats, Floats, Bools]:
    """(k,) an inner and an outer end between which each ray crosses the skin, and whether it does at all.

    The rays are walked along from outside, where bounds of the skin near them say that nothing can be.
    """
    low, high = _bounds(body, rays)
    steps = int(np.clip(np.ceil((high - low).max(initial=0.0) / SCAN_MM), LEAST_STEPS, MOST_STEPS))
    outer, inner = high.copy(), high.copy()
    open_ = np.ones(len(high), np.bool_)
    for k in range(1, steps + 2):
        active = np.flatnonzero(open_)
        if not active.size:
            break
        to = high[active] + (low - high)[active] * (k / steps) if k <= steps else np.zeros(active.size)
        inner[active] = to
        above, _ = _outside(body, rays.at(to, active))
        open_[active[above <= 0.0]] = False
        outer[active[above > 0.0]] = to[above > 0.0]
    return inner, outer, ~open_


def _bounds(body: Continued, rays: _Rays) -> tuple[Floats, Floats]:
    """(k,) a distance on each ray within which nothing of the skin begins, and one beyond which nothing of it is."""
    x0, x1 = body.x_range_mm[0] - BEYOND_MM, body.x_range_mm[1] + BEYOND_MM
    x = np.linspace(x0, x1, TABLE[0])
    r = body.at(np.repeat(x, TABLE[1]), np.tile(np.arange(TABLE[1]) * (TURN_RAD / TABLE[1]), TABLE[0])).r
    greatest, least = r.reshape(TABLE).max(axis=1), r.reshape(TABLE).min(axis=1)
    beside = np.hypot(rays.start[:, 1], rays.start[:, 2])
    reach = (greatest.max() * (1 + SPARE) + beside.max(initial=0.0)) * np.abs(rays.direction[:, 0]).max(initial=0.0)
    width = 2 * int(np.ceil(reach * (TABLE[0] - 1) / (x1 - x0))) + 3
    up = np.interp(rays.start[:, 0], x, maximum_filter1d(greatest, width, mode="nearest"))
    down = np.interp(rays.start[:, 0], x, minimum_filter1d(least, width, mode="nearest"))
    lean = np.sqrt(np.maximum(1.0 - rays.direction[:, 0] ** 2, 1e-12))  # a leaning ray runs further to the same radius
    return np.maximum(down * (1 - SPARE) - beside, 0.0), (up * (1 + SPARE) + beside + SCAN_MM) / lean


def _refined(body: Continued, rays: _Rays, inner: Floats, outer: Floats, found: Bools) -> Floats:
    """(k,) the crossing within each bracket: Newton, halved where it would leave the bracket."""
    rho = 0.5 * (inner + outer)
    rho[~found] = 0.0
    lo, hi = inner.copy(), outer.copy()
    active = np.flatnonzero(found)
    for _ in range(ROUNDS):
        if not active.size:
            break
        points = rays.at(rho[active], active)
        over, local = _outside(body, points)
        hi[active[over > 0]] = rho[active[over > 0]]
        lo[active[over <= 0]] = rho[active[over <= 0]]
        per_rho = (local.gradient(points) * rays.direction[active]).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            to = rho[active] - over / per_rho
        wild = ~((to >= lo[active]) & (to <= hi[active]))
        to[wild] = 0.5 * (lo[active] + hi[active])[wild]
        moved = np.abs(to - rho[active])
        rho[active] = to
        active = active[(moved > 1e-13 * np.maximum(np.abs(to), 1.0)) & (over != 0.0)]
    return rho


def filled(radius: Floats) -> Floats:
    """Radii (m, n) with those of 0, of rays that met nothing, taken from the nearest station under the same angle."""
    empty = ~(radius > 0.0)
    if not empty.any() or empty.all():
        return radius
    whole = radius.copy()
    stations = np.arange(len(radius), dtype=np.float64)
    for j in np.flatnonzero(empty.any(axis=0)):
        good = ~empty[:, j]
        whole[:, j] = np.interp(stations, stations[good], radius[good, j]) if good.any() else radius[~empty].mean()
    return whole
