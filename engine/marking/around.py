"""Lines that go round the blank inside the art: rings at one station each, or a helix that climbs a pitch a turn.

They are found on the skin itself, in theta and in the arc along it, whatever the projection: s(x) is the integral of
the greatest distance that a step of x makes across such lines anywhere round the art, so that lines one pitch apart in
s are nowhere farther apart on the skin. A helix, with the turns of theta counted on, is one long line; so the stretches
inside the art are stretches of one number, and join where the art meets itself round the back.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged, offsets_of, spread
from engine.kernel.units import TURN_RAD
from engine.layout import Layout
from engine.marking.scanline import inside
from engine.marking.strokes import Strokes, either_way

__all__ = ["around"]

EDGE_MM = 0.25  # edges of the art so short are straight in theta and s to a micron
STATION_MM = 0.1  # between the places where the greatest scale is asked
STATIONS, ANGLES = 1500, 121  # at most so many
MARGIN = 1e-3  # between them it may be this much more
TOUCH_MM = 2e-3  # stretches so near each other are one
STEP_RAD = np.radians(1.0)  # between the points of a line before it is thinned
CHORD_MM = 2e-4  # and how far thinning may move it on the sheet
TINY = 1e-9  # of a turn: rounding


def around(rings: Ragged, layout: Layout, pitch_mm: float, *, climbs: bool) -> Strokes:
    """The strokes inside `rings` (closed, on the sheet): round lines, or one helix where it climbs.

    What is drawn over a whole turn is closed: it ends where it began. Where the art lies on itself it is cut once. A
    layout whose sheet ends after a turn (`developed`, `from-view`) gets a helix stroke for each turn.
    """
    ribbon = _Ribbon.under(rings, layout, pitch_mm)
    theta, y = ribbon.theta_rad, ribbon.arc(ribbon.x_mm) / pitch_mm
    line, start, stop = inside(y - theta / TURN_RAD if climbs else y, theta, ribbon.offsets)
    touch = TOUCH_MM / ribbon.radius_mm
    if climbs:
        start, stop = start + TURN_RAD * line, stop + TURN_RAD * line
        order = np.argsort(start, kind="stable")
        line, start, stop = _united(np.zeros_like(line), start[order], stop[order], touch, np.inf)
    else:
        start, stop = start - (turns := TURN_RAD * np.floor((start - theta.min()) / TURN_RAD)), stop - turns
        order = np.lexsort((start, line))
        line, start, stop = _united(line[order], start[order], stop[order], touch, TURN_RAD)
    long = stop - start > touch
    return _strokes(line[long], start[long], stop[long], ribbon, layout, climbs=climbs)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ribbon:
    """The rings on the skin (x_mm, theta_rad (n,), offsets), and the arc s (m,) at the stations (m,)."""

    x_mm: Floats
    theta_rad: Floats
    offsets: Ints
    stations: Floats
    s: Floats
    pitch_mm: float
    radius_mm: float

    @classmethod
    def under(cls, rings: Ragged, layout: Layout, pitch_mm: float) -> "_Ribbon":
        lines = shapely.segmentize(shapely.linestrings(rings.points, indices=rings.owner), EDGE_MM)
        x, theta = layout.wrap(shapely.get_coordinates(lines))
        sizes = shapely.get_num_coordinates(lines)
        low, high = float(x.min()), float(x.max())
        stations = np.linspace(low, high, int(np.clip((high - low) / STATION_MM, 32, STATIONS)))
        turn = np.linspace(theta.min(), min(theta.max(), theta.min() + TURN_RAD), ANGLES)
        skin = layout.skin
        at = np.repeat(stations, ANGLES), np.tile(turn, len(stations))
        r = skin.radius(*at)
        r_x, r_theta = skin.slopes(*at)
        # Area over length, sqrt(EG - F2) / sqrt(G): across a line of one station, for a step of x.
        scale = np.sqrt(1.0 + (r * r_x) ** 2 / (r * r + r_theta**2)).reshape(-1, ANGLES)
        greatest = scale.max(axis=1)
        if np.ptp(scale, axis=1).max() > 1e-9:
            greatest *= 1.0 + MARGIN
        s = np.concatenate([[0.0], np.cumsum(np.diff(stations) * 0.5 * (greatest[1:] + greatest[:-1]))])
        return cls(
            x_mm=x,
            theta_rad=theta,
            offsets=offsets_of(sizes),
            stations=stations,
            s=s - 0.5 * s[-1],
            pitch_mm=pitch_mm,
            radius_mm=float(r.max()),
        )

    def arc(self, x_mm: Floats) -> Floats:
        """(n,) s at each x."""
        return np.interp(x_mm, self.stations, self.s)

    def station(self, s: Floats) -> Floats:
        """(n,) x at each s, the inverse of `arc`."""
        return np.interp(s, self.s, self.stations)


def _strokes(line: Ints, start: Floats, stop: Floats, ribbon: _Ribbon, layout: Layout, *, climbs: bool) -> Strokes:
    """The stretches as strokes on the sheet, theta of each beginning in the art's own turn."""
    if climbs and not _runs_on(layout, ribbon):
        start, stop = _each_turn(start, stop, float(ribbon.theta_rad.min()))
        line = np.zeros(len(start), np.int64)
    count = np.maximum(2, np.ceil((stop - start) / STEP_RAD).astype(np.int64) + 1)
    i = np.repeat(np.arange(len(line)), count)
    m = spread(0, count)
    at = start[i] + (stop - start)[i] * m / (count[i] - 1)
    turns: Floats = at / TURN_RAD if climbs else line[i].astype(np.float64)
    back = TURN_RAD * np.floor((start - ribbon.theta_rad.min()) / TURN_RAD + TINY)
    uv = layout.unwrap(ribbon.station(turns * ribbon.pitch_mm), at - back[i])
    thin = shapely.simplify(shapely.linestrings(uv, indices=i), CHORD_MM, preserve_topology=False)
    sizes, points = shapely.get_num_coordinates(thin), shapely.get_coordinates(thin)
    return either_way(Ragged(points=points, offsets=offsets_of(sizes)))


def _runs_on(layout: Layout, ribbon: _Ribbon) -> bool:
    """Whether the sheet goes on for a turn beyond the art, theta counted on."""
    x = np.repeat(ribbon.stations[[0, -1]], 2)
    theta = np.tile([ribbon.theta_rad.min() - TURN_RAD, ribbon.theta_rad.max() + TURN_RAD], 2)
    uv = layout.unwrap(x, theta)
    return bool(layout.holds(uv).all()) and bool(np.abs(layout.wrap(uv)[1] - theta).max() < 1e-6)


def _each_turn(start: Floats, stop: Floats, base_rad: float) -> tuple[Floats, Floats]:
    """The stretches cut wherever a turn, counted from `base_rad`, is full."""
    low, high = np.floor((start - base_rad) / TURN_RAD + TINY), np.ceil((stop - base_rad) / TURN_RAD - TINY)
    count = np.maximum(1, high - low).astype(np.int64)
    i = np.repeat(np.arange(len(start)), count)
    m = spread(0, count)
    edge = base_rad + TURN_RAD * (low[i] + m)
    return np.maximum(start[i], edge), np.minimum(stop[i], edge + TURN_RAD)


def _united(line: Ints, start: Floats, stop: Floats, touch: float, turn: float) -> tuple[Ints, Floats, Floats]:
    """The stretches, sorted by line and start, united where they touch or lap, also round the back (`turn`)."""
    out, held = np.zeros(len(line), np.int64), np.ones(len(line), np.bool_)
    out[:], start, stop = line, start.copy(), stop.copy()
    _unite(out, start, stop, held, touch, turn)
    return out[held], start[held], stop[held]


@compiled
def _unite(line: Ints, start: Floats, stop: Floats, held: Bools, touch: float, turn: float) -> None:
    """In place; `held` is what is left. No stretch is longer than a turn."""
    first = 0
    while first < len(line):
        last = first
        end = first + 1
        while end < len(line) and line[end] == line[first]:
            if start[end] <= stop[last] + touch:
                stop[last] = max(stop[last], stop[end])
                held[end] = False
            else:
                last = end
            end += 1
        for k in range(first, end):  # the last stretch may lap the first ones once more
            if last == k or not held[k] or start[k] + turn > stop[last] + touch:
                continue
            stop[last] = max(stop[last], stop[k] + turn)
            held[k] = False
        if stop[last] - start[last] >= turn - touch:
            stop[last] = start[last] + turn
        first = end
