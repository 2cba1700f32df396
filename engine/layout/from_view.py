"""The picture as an eye sees it, on the plane through the art's centre that is square to the line of sight.

Where no eye is named it looks square to the skin at the centre, from far away; an eye far away looks square to the axis
from its angle; one that is near sees in perspective. The way back meets the skin along a ray: within the round bar that
holds the whole skin the crossing nearest the eye is bracketed by even steps and closed in by regula falsi with halving.
What lies beyond the horizon is refused.
"""

from dataclasses import dataclass
from math import radians

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import LayoutError
from engine.kernel.units import TURN_RAD
from engine.layout.placement import Eye
from engine.layout.tensor import on_blank, pulled_back, refuse_off_blank

__all__ = ["FromView", "from_view"]

STEPS = 48  # between the places where the ray enters the bar that holds the skin and where it leaves it
ROOM = 1.02  # the bar's radius over the greatest radius found at samples
CLOSINGS = 60  # halvings at worst: 2**-60 of a step
BEHIND = 1e-6  # of the eye's distance: what lies nearer to its plane, or past it, is off the sheet
SAME_MM = 1e-6  # what the eye meets first is the art's own centre
GRAZING = 0.05  # cosine between ray and normal below which a line would be smeared twentyfold


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FromView:
    """origin, right, up, out : (3,) the art's centre in space and the eye's frame; `out` points to the eye.
    bar_mm : radius of a bar about the axis that holds the whole skin.   reach_mm : no ray is followed further.
    away_mm : from the art's centre to the eye; infinite far away.
    """

    skin: Skin
    theta0_rad: float
    origin: Floats
    right: Floats
    up: Floats
    out: Floats
    bar_mm: float
    reach_mm: float
    away_mm: float = np.inf

    def wrap(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """(n, 2) sheet mm -> x_mm, theta_rad (n,). LayoutError where the eye sees no skin."""
        x, theta, seen = self._look(uv_mm)
        self._refuse(int((~seen).sum()))
        refuse_off_blank(x, np.array(self.skin.x_range_mm))
        return x, theta

    def holds(self, uv_mm: Floats) -> Bools:
        """(n,) whether `wrap` can lay each point."""
        x, _, seen = self._look(uv_mm)
        return seen & on_blank(x, np.array(self.skin.x_range_mm))

    def _look(self, uv_mm: Floats) -> tuple[Floats, Floats, Bools]:
        """x, theta, and whether the eye sees skin there, well enough to draw on."""
        foot = self.origin + uv_mm[:, :1] * self.right + uv_mm[:, 1:] * self.up
        ray, before = self._rays(foot)
        depth, met = self._meet(foot, ray, before)
        p = foot + depth[:, None] * ray
        x, theta = p[:, 0], self._near(np.arctan2(p[:, 2], p[:, 1]))
        return x, theta, met & (self._facing(x, theta, ray) >= GRAZING)

    def _rays(self, foot: Floats) -> tuple[Floats, Floats]:
        """(n, 3) from each place to the eye, of length 1, and (n,) how far that is."""
        if np.isinf(self.away_mm):
            return np.broadcast_to(self.out, foot.shape), np.full(len(foot), np.inf)
        way = self.origin + self.away_mm * self.out - foot
        far = np.linalg.norm(way, axis=1)
        return way / far[:, None], far

    def rays_at(self, places_mm: Floats) -> Floats:
        """(n, 3) from places in space to the eye, of length 1."""
        return self._rays(places_mm)[0]

    def unwrap(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """x, theta (n,) -> (n, 2) sheet mm; places on the far side fall on the same plane."""
        p = self._point(x_mm, theta_rad) - self.origin
        return np.stack([p @ self.right, p @ self.up], axis=1) * self._nearness(p)[:, None]

    def _nearness(self, p: Floats) -> Floats:
        """(n,) how much larger what lies at p (n, 3) from the centre looks than it would there; past the eye, huge."""
        if np.isinf(self.away_mm):
            return np.ones(len(p))
        return self.away_mm / np.maximum(self.away_mm - p @ self.out, BEHIND * self.away_mm)

    def jacobian(self, uv_mm: Floats) -> Floats:
        """(n, 2, 2): d(x, theta)/d(u, v)."""
        return self._jacobian(*self.wrap(uv_mm))

    def _jacobian(self, x: Floats, theta: Floats) -> Floats:
        tangents = self._tangents(x, theta)
        back = np.stack([np.stack([t @ self.right, t @ self.up], 1) for t in tangents], axis=2)
        if np.isfinite(self.away_mm):  # what comes nearer grows
            p = self._point(x, theta) - self.origin
            near = self._nearness(p)[:, None, None]
            aside = np.stack([p @ self.right, p @ self.up], 1)[:, :, None]
            closing = np.stack([t @ self.out for t in tangents], 1)[:, None, :]
            back = near * (back + near / self.away_mm * aside * closing)
        return np.asarray(np.linalg.inv(back), np.float64)

    def tensor(self, uv_mm: Floats) -> Floats:
        """(n, 3): E, F, G of the skin in sheet coordinates."""
        x, theta = self.wrap(uv_mm)
        return pulled_back(self.skin, x, theta, self._jacobian(x, theta))

    def _point(self, x: Floats, theta: Floats) -> Floats:
        r = self.skin.radius(x, theta)
        return np.stack([np.broadcast_to(x, r.shape), r * np.cos(theta), r * np.sin(theta)], axis=1)

    def _tangents(self, x: Floats, theta: Floats) -> tuple[Floats, Floats]:
        r, (r_x, r_t) = self.skin.radius(x, theta), self.skin.slopes(x, theta)
        c, s = np.cos(theta), np.sin(theta)
        return np.stack([np.ones(r.shape), r_x * c, r_x * s], 1), np.stack(
            [np.zeros(r.shape), r_t * c - r * s, r_t * s + r * c], 1
        )

    def _facing(self, x: Floats, theta: Floats, ray: Floats) -> Floats:
        normal = np.cross(*self._tangents(x, theta)[::-1])
        normal *= np.sign((normal * np.stack([np.zeros(len(x)), np.cos(theta), np.sin(theta)], 1)).sum(1))[:, None]
        size = np.linalg.norm(normal, axis=1)  # 0 at a pole, and beyond one: nothing faces the eye there
        return np.divide((normal * ray).sum(axis=1), size, out=np.zeros(len(x)), where=size > 0)

    def _over(self, foot: Floats, ray: Floats, depth: Floats) -> Floats:
        """How far the place on the ray stands over the skin; beyond an end the end's own radius goes on."""
        p = foot + depth[:, None] * ray
        return np.hypot(p[:, 1], p[:, 2]) - self.skin.radius(p[:, 0], np.arctan2(p[:, 2], p[:, 1]))

    def _meet(self, foot: Floats, ray: Floats, before: Floats) -> tuple[Floats, Bools]:
        """(n,) along `ray`: the first crossing that the eye sees, and whether there is one."""
        enter, leave = self._bar(foot, ray, before)
        high = enter.copy()
        low = np.full(len(foot), np.nan)
        for share in np.linspace(0.0, 1.0, STEPS)[1:]:
            waits = np.isnan(low)
            if not waits.any():
                break
            at = enter[waits] + share * (leave - enter)[waits]
            inside = self._over(foot[waits], ray[waits], at) <= 0
            low[waits] = np.where(inside, at, np.nan)
            high[waits] = np.where(inside, high[waits], at)
        met = ~np.isnan(low)
        low = np.where(met, low, high)
        above, below = self._over(foot, ray, high), self._over(foot, ray, low)
        for k in range(CLOSINGS):
            gap = high - low
            if gap.max(initial=0.0) < 1e-12:
                break
            share = np.where(above > below, above / np.where(above > below, above - below, 1.0), 0.5)
            share = np.clip(share, 1e-3, 1 - 1e-3) if k % 3 else np.full(len(foot), 0.5)
            middle = high - share * gap
            value = self._over(foot, ray, middle)
            up = value > 0
            high, above = np.where(up, middle, high), np.where(up, value, above)
            low, below = np.where(up, low, middle), np.where(up, below, value)
        return 0.5 * (high + low), met

    def _bar(self, foot: Floats, ray: Floats, before: Floats) -> tuple[Floats, Floats]:
        """(n,) each along `ray`: where it enters the bar from the eye's side, no nearer than the eye, and leaves it."""
        square = np.maximum(ray[:, 1] ** 2 + ray[:, 2] ** 2, 1e-12)  # 0 only where the eye looks along the axis
        middle = -(foot[:, 1] * ray[:, 1] + foot[:, 2] * ray[:, 2]) / square
        off = np.hypot(foot[:, 1] + middle * ray[:, 1], foot[:, 2] + middle * ray[:, 2])
        half = np.sqrt(np.maximum(self.bar_mm**2 - off**2, 0.0) / square)
        enter = np.minimum(np.minimum(middle + half, before), self.reach_mm)
        return enter, np.minimum(np.maximum(middle - half, -self.reach_mm), enter)

    def _near(self, theta: Floats) -> Floats:
        turn = theta - self.theta0_rad
        return theta - TURN_RAD * np.rint(turn / TURN_RAD)

    @staticmethod
    def _refuse(count: int) -> None:
        if count:
            raise LayoutError(
                f"{count} points of the art lie beyond what the eye sees from its side",
                where="placement/projection",
                hint="make it smaller, or choose equidistant",
            )


def from_view(skin: Skin, x0_mm: float, theta0_rad: float, eye: Eye | None = None) -> FromView:
    """The view of the art's centre at (x0, theta0); right is +theta-most, up +x-most. LayoutError where the eye stands
    in the blank, or does not see the centre.
    """
    x, theta = np.array([x0_mm]), np.array([theta0_rad])
    refuse_off_blank(x, np.array(skin.x_range_mm))
    r, (r_x, r_t) = float(skin.radius(x, theta)[0]), (float(s[0]) for s in skin.slopes(x, theta))
    c, s = np.cos(theta0_rad), np.sin(theta0_rad)
    radial, around = np.array([0.0, c, s]), np.array([0.0, -s, c])
    origin = np.array([x0_mm, r * c, r * s])
    span = np.linspace(*skin.x_range_mm, 129)[:, None]
    bar_mm = ROOM * float(skin.radius(span, np.linspace(0, TURN_RAD, 129)[None, :]).max())
    out, away_mm = radial - r_x * np.array([1.0, 0.0, 0.0]) - r_t / r * around, np.inf
    if eye is not None:
        out, away_mm = _sight(eye, origin, bar_mm)
    out /= np.linalg.norm(out)
    up = np.array([1.0, 0.0, 0.0]) - out[0] * out
    up /= np.linalg.norm(up)
    view = FromView(
        skin=skin,
        theta0_rad=theta0_rad,
        origin=origin,
        right=np.cross(up, out),
        up=up,
        out=out,
        bar_mm=bar_mm,
        reach_mm=2.0 * bar_mm + (abs(out[0]) * float(np.ptp(span)) if np.isinf(away_mm) else np.ptp(span) + away_mm),
        away_mm=away_mm,
    )
    met, turned, seen = view._look(np.zeros((1, 2)))
    if not (seen[0] and abs(met[0] - x0_mm) < SAME_MM and abs(turned[0] - theta0_rad) * r < SAME_MM):
        raise LayoutError(
            "the eye does not see the place where the art's centre goes",
            where="placement/eye" if eye is not None else "placement/projection",
            hint="move the eye round to it, or choose another projection",
        )
    return view


def _sight(eye: Eye, origin: Floats, bar_mm: float) -> tuple[Floats, float]:
    """From the art's centre towards the eye, and how far that is."""
    turn = radians(eye.angle_deg)
    radial = np.array([0.0, np.cos(turn), np.sin(turn)])
    if eye.distance_mm is None:
        return radial, np.inf
    if not eye.distance_mm > bar_mm:
        raise LayoutError(
            f"an eye {eye.distance_mm:g} mm from the axis is no further out than the blank, or close on it",
            where="placement/eye/distance_mm",
            hint=f"more than {bar_mm:.4g} mm, or null for far away",
        )
    way = np.array([eye.x_mm, 0.0, 0.0]) + eye.distance_mm * radial - origin
    return way, float(np.linalg.norm(way))
