"""Lettering that stands on the skin: along its line letters keep their true height and width, whatever the projection.

The line that the lettering follows is where the layout puts it. From each place on it a geodesic sets off at a right
angle; what is h above the line in the lettering goes the length h along it (geodesic parallel, or Fermi, coordinates).
Heights are then true by construction, and so are lengths on the line itself; away from it letters grow wider or
narrower as the skin is hollow or round.
Source: M. do Carmo, Differential Geometry of Curves and Surfaces, sections 4-4 and 4-6; geodesics are followed in
Hamilton's form, which needs the metric's first derivatives alone.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import CubicSpline, RectBivariateSpline

from engine.artwork import Drawing
from engine.artwork.lettering import Arc, Lettering, parted
from engine.blank import Skin, metric
from engine.kernel.arrays import Floats
from engine.kernel.errors import LayoutError
from engine.kernel.ragged import Ragged
from engine.layout.layout import Layout
from engine.layout.placement import Placement
from engine.layout.tensor import refuse_off_blank

__all__ = ["heights", "stand"]

SPAN_MM = 0.4  # between the geodesics that are followed; a cubic spline between them strays less than 1e-5 mm
MOST_SPANS = 2_000  # longer lettering has them farther apart
STEP_MM = 0.4  # of a geodesic; a fourth-order step strays less than 1e-7 mm where the skin bends in a radius of 5 mm
LEAST_STEPS = 2  # up, and down: a cubic through the levels needs four of them
LONGEST_MM = 0.25  # of a straight piece of a letter, which may be curved on the sheet: it strays less than 1 um
NUDGE = 1e-5  # mm and rad, for the metric's derivatives
REACH_TRIES = 12
CLOSE_MM = 1e-7  # no more is missing at the ends of the line when it is long enough
SAME_SCALE = 1e-3  # a proportion that was rounded keeps an arc an arc
_ABOUT_X = np.array([[0.0], [1.0], [-1.0], [0.0], [0.0]])
_ABOUT_T = np.array([[0.0], [0.0], [0.0], [1.0], [-1.0]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """The line on the sheet that lettering follows: straight through (0, 0), or an arc; then turned. Both are their own
    mirror images, so lettering that is mirrored runs the other way along the same line.
    """

    turned: Floats
    arc: Arc | None

    def taken(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """(n, 2) sheet mm -> along the line and above it, (n,) each."""
        flat = uv_mm @ self.turned  # the inverse of a turn is its transpose
        return (flat[:, 0], flat[:, 1]) if self.arc is None else self.arc.taken(flat)

    def foot(self, along: Floats) -> Floats:
        """(n,) -> (n, 2) sheet mm."""
        flat = np.stack([along, np.zeros(len(along))], axis=1)
        flat = flat if self.arc is None else self.arc.put(along, np.zeros(len(along)))
        return flat @ self.turned.T

    def frame(self, along: Floats) -> tuple[Floats, Floats]:
        """(n, 2) each: unit vectors along the line and up from it."""
        angle = np.zeros(len(along)) if self.arc is None else along / self.arc.radius_mm
        right = np.stack([np.cos(angle), -np.sin(angle)], axis=1)
        up = np.stack([np.sin(angle), np.cos(angle)], axis=1)
        return right @ self.turned.T, up @ self.turned.T


def _line(lettering: Lettering, placement: Placement, scale: float) -> _Line:
    turn = math.radians(placement.turn_deg)
    turned = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    return _Line(turned=turned, arc=None if lettering.arc is None else lettering.arc.scaled(scale))


def stand(placed: Drawing, lettering: Lettering, layout: Layout, placement: Placement) -> Drawing:
    """The placed lettering, its sheet changed so that the letters are true on the skin.

    Raises
    ------
    LayoutError where it runs off the blank, the skin is bent so sharply that letters would overlap, or an arc is
    stretched one way only, which leaves no arc.
    """
    scale = placed.height_mm / lettering.drawing.height_mm
    wide = placed.width_mm / lettering.drawing.width_mm
    if lettering.arc is not None and abs(wide / scale - 1.0) > SAME_SCALE:
        raise LayoutError(
            "lettering on an arc is stretched more one way than the other",
            where="placement/height_mm",
            hint="give its width or its height alone, or let true_size be false",
        )
    line = _line(lettering, placement, scale)
    rings, lines = (parted(part, LONGEST_MM) for part in (placed.rings, placed.lines))
    along, above = line.taken(np.concatenate([rings.points, lines.points]))
    moved = _on_skin(layout, line, along, above)
    count = len(rings.points)
    return replace(
        placed,
        rings=Ragged(points=moved[:count], offsets=rings.offsets),
        lines=Ragged(points=moved[count:], offsets=lines.offsets),
    )


def heights(placed: Drawing, lettering: Lettering, layout: Layout, placement: Placement) -> tuple[float, float]:
    """(least, greatest) height on the skin of a plain capital, mm, over the placed lettering as the projection has it;
    to the first order: by the metric at each place.
    """
    scale = placed.height_mm / lettering.drawing.height_mm
    line = _line(lettering, placement, scale)
    along, _ = line.taken(placed.places)
    _, up = line.frame(along)
    E, F, G = layout.tensor(placed.places).T
    tall = lettering.capital_mm * scale * np.sqrt(_product((E, F, G), up, up))
    return float(tall.min()), float(tall.max())


def _on_skin(layout: Layout, line: _Line, along: Floats, above: Floats) -> Floats:
    """(n, 2) sheet mm of what is (n,) along the line on the skin and above it."""
    spans = min(MOST_SPANS, max(8, math.ceil((along.max() - along.min()) / SPAN_MM)))
    stations = np.linspace(along.min(), along.max(), spans + 1)
    x, theta, way = _feet(layout, line, stations)
    top, bottom = (max(float(far.max()), LEAST_STEPS * STEP_MM) for far in (above, -above))
    up = _followed(layout.skin, x, theta, way, top)
    down = _followed(layout.skin, x, theta, -way, bottom)
    table = np.concatenate([down[:0:-1], up])  # (level, station, 2)
    levels = np.concatenate([-np.linspace(0.0, bottom, len(down))[:0:-1], np.linspace(0.0, top, len(up))])
    _refuse_folds(table, layout.skin)
    x, theta = (RectBivariateSpline(levels, stations, table[:, :, k]).ev(above, along) for k in (0, 1))
    refuse_off_blank(x, np.array(layout.skin.x_range_mm))
    return layout.unwrap(x, theta)


def _feet(layout: Layout, line: _Line, stations: Floats) -> tuple[Floats, Floats, Floats]:
    """x, theta (n,) of the line's places at (n,) mm along it on the skin, and the way up from them (n, 2): unit on the
    skin, d(x, theta) a mm.
    """
    t = _at_length(layout, line, stations)
    foot = line.foot(t)
    x, theta = layout.wrap(foot)
    right, up = line.frame(t)
    jacobian = layout.jacobian(foot)
    ahead = np.einsum("nij,nj->ni", jacobian, right)
    E, F, G = _metric(layout.skin, x, theta)
    square = np.stack([-(F * ahead[:, 0] + G * ahead[:, 1]), E * ahead[:, 0] + F * ahead[:, 1]], axis=1)
    wanted = np.einsum("nij,nj->ni", jacobian, up)
    sign = np.sign(_product((E, F, G), square, wanted))
    return x, theta, square * (sign / np.sqrt(_product((E, F, G), square, square)))[:, None]


def _at_length(layout: Layout, line: _Line, stations: Floats) -> Floats:
    """(n,) mm along the line on the sheet that are (n,) rising mm along it on the skin, both from the middle."""
    low, high = min(stations[0], -STEP_MM), max(stations[-1], STEP_MM)
    for _ in range(REACH_TRIES):
        t = np.linspace(low, high, 4 * len(stations) + 1)
        E, F, G = layout.tensor(line.foot(t)).T
        right, _ = line.frame(t)
        speed = np.sqrt(_product((E, F, G), right, right))
        length = CubicSpline(t, speed).antiderivative()
        below, beyond = float(length(low) - length(0.0)) - stations[0], stations[-1] - float(length(high) - length(0.0))
        if max(below, beyond) <= CLOSE_MM:
            break
        low, high = low - max(below, 0.0) / speed[0], high + max(beyond, 0.0) / speed[-1]
    else:
        raise LayoutError("the lettering is longer than the skin there", where="placement", hint="make it smaller")
    measured = length(t) - length(0.0)
    found = np.interp(stations, measured, t)
    for _ in range(4):
        off = length(found) - length(0.0) - stations
        found = np.clip(found - off / np.interp(found, t, speed), low, high)
    return found


def _followed(skin: Skin, x: Floats, theta: Floats, way: Floats, reach: float) -> Floats:
    """(k + 1, n, 2) places x, theta on n geodesics from their beginnings on, evenly up to `reach` mm."""
    E, F, G = _metric(skin, x, theta)
    push = np.stack([E * way[:, 0] + F * way[:, 1], F * way[:, 0] + G * way[:, 1]])
    state = np.concatenate([np.stack([x, theta]), push])
    steps = math.ceil(reach / STEP_MM)
    step = reach / steps
    out = [state[:2].T]
    for _ in range(steps):
        a = _flow(skin, state)
        b = _flow(skin, state + 0.5 * step * a)
        c = _flow(skin, state + 0.5 * step * b)
        state = state + step / 6.0 * (a + 2.0 * b + 2.0 * c + _flow(skin, state + step * c))
        out.append(state[:2].T)
    return np.stack(out)


def _flow(skin: Skin, state: Floats) -> Floats:
    """d(x, theta, and their momenta)/ds, (4, n), of geodesics at unit speed."""
    x, theta, p_x, p_t = state
    E, F, G = _metric(skin, x + NUDGE * _ABOUT_X, theta + NUDGE * _ABOUT_T)  # (5, n) each: here, x + -, theta + -
    square = E[0] * G[0] - F[0] ** 2
    v_x, v_t = (G[0] * p_x - F[0] * p_t) / square, (E[0] * p_t - F[0] * p_x) / square
    energy = E * v_x**2 + 2.0 * F * v_x * v_t + G * v_t**2
    return np.stack([v_x, v_t, (energy[1] - energy[2]) / (4.0 * NUDGE), (energy[3] - energy[4]) / (4.0 * NUDGE)])


def _metric(skin: Skin, x: Floats, theta: Floats) -> tuple[Floats, Floats, Floats]:
    return metric(skin.radius(x, theta), *skin.slopes(x, theta))


def _product(tensor: tuple[Floats, Floats, Floats], one: Floats, other: Floats) -> Floats:
    """(n,) inner products of (n, 2) vectors."""
    E, F, G = tensor
    mixed = one[:, 0] * other[:, 1] + one[:, 1] * other[:, 0]
    product: Floats = E * one[:, 0] * other[:, 0] + F * mixed + G * one[:, 1] * other[:, 1]
    return product


def _refuse_folds(table: Floats, skin: Skin) -> None:
    """LayoutError where neighbouring geodesics (level, station) come together on the blank."""
    across, along = np.diff(table, axis=0)[:, :-1], np.diff(table, axis=1)[:-1]
    turn = across[..., 0] * along[..., 1] - across[..., 1] * along[..., 0]
    low, high = skin.x_range_mm
    held = (table[:-1, :-1, 0] > low) & (table[:-1, :-1, 0] < high)
    if (turn[held] > 0).any() and (turn[held] < 0).any():
        raise LayoutError(
            "the skin is bent so sharply there that letters would overlap",
            where="placement",
            hint="make the lettering smaller, or move it",
        )
