"""Straight lines of the art, and how bent each will look on the piece.

A person looks at the art's centre, square to the skin there or from the eye that the placement names; sight from far
away has no perspective. A line that is seen whole from there looks bent by its bow: the greatest distance, in that
picture, of the laid line from the straight one between its ends, which is its distance in space from the plane through
its ends and along the sight. A line that cannot be seen whole from there is looked at straight on, at its own middle,
as far as it can be seen from there.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.artwork import Drawing
from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.errors import LayoutError
from engine.kernel.ragged import Ragged
from engine.kernel.units import TURN_RAD
from engine.layout.from_view import FromView, from_view
from engine.layout.layout import Layout
from engine.layout.placement import Placement

__all__ = ["Bows", "bows", "sight", "straight_lines"]

LONG_MM = 8.0  # shorter lines are not looked along (common practice, no source)
STRAIGHT_MM = 0.03  # a run of points so near to a line is straight: a third of a fine line's width
MOST_LINES = 2000  # the longest are judged
PLACES = 33  # along each: a bow is found to 0.1 % of itself
SEEN = 0.2  # cosine between the sight and the normal: flatter than 78 degrees nobody judges a line
END_ON = 0.25  # of a line's length: a line seen shorter is seen end on


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bows:
    """Of n straight lines, longest first. length_mm : as seen. bow_mm : how far the laid line goes aside of straight.
    x_mm, theta_rad : where it does so most. centred : whether it is seen whole when the art's centre is looked at.
    """

    length_mm: Floats
    bow_mm: Floats
    x_mm: Floats
    theta_rad: Floats
    centred: Bools

    @property
    def share(self) -> Floats:
        """(n,) of the seen length."""
        return self.bow_mm / self.length_mm


def straight_lines(drawing: Drawing) -> Floats:
    """(n, 2, 2) ends of the straight stretches of rings and lines that are LONG_MM or longer, the longest first."""
    found = [_stretches(part) for part in (drawing.rings, drawing.lines) if len(part)]
    ends = np.concatenate([np.zeros((0, 2, 2)), *found])
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    order = np.argsort(-np.round(length, 6), kind="stable")
    return np.asarray(ends[order[length[order] >= LONG_MM]], np.float64)


def sight(skin: Skin, placement: Placement) -> FromView | None:
    """The view of the art's centre, square to the skin or from the placement's eye; None where that does not see it."""
    try:
        return from_view(skin, placement.x_mm, math.radians(placement.angle_deg), placement.eye)
    except LayoutError:
        return None


def bows(drawing: Drawing, layout: Layout, view: FromView | None) -> Bows:
    """How bent the art's straight lines will look as laid.

    drawing : as placed. view : the sight of the art's centre; None where that cannot be seen. Lines that are not laid
    whole are left out, and all but the longest MOST_LINES.
    """
    ends = straight_lines(drawing)[:MOST_LINES]
    share = np.linspace(0.0, 1.0, PLACES)[:, None]
    places = ends[:, None, 0] + share * (ends[:, None, 1] - ends[:, None, 0])
    laid = layout.holds(places.reshape(-1, 2)).reshape(-1, PLACES).all(axis=1)
    places = places[laid]
    x, theta = (v.reshape(-1, PLACES) for v in layout.wrap(places.reshape(-1, 2)))
    spots, normals = _in_space(layout.skin, x, theta)
    away = normals[:, PLACES // 2, None]
    picture, whole = _flat(spots, away), np.zeros(len(x), np.bool_)
    rays = np.broadcast_to(away, spots.shape)
    if view is not None:
        ray = view.rays_at(spots.reshape(-1, 3)).reshape(spots.shape)
        whole = ((normals * ray).sum(axis=2) > SEEN).all(axis=1)
        seen = view.unwrap(x[whole].ravel(), theta[whole].ravel()).reshape(-1, PLACES, 2)
        picture[whole], rays = seen, np.where(whole[:, None, None], ray, rays)
    shown = (normals * rays).sum(axis=2) > SEEN
    length, bow, at = _bowed(picture, _first_run(shown))
    true = np.linalg.norm(np.diff(spots, axis=1), axis=2).sum(axis=1)
    kept = length >= np.maximum(END_ON * true, 0.5 * LONG_MM)
    rows = np.arange(len(x))[kept]
    return Bows(
        length_mm=length[kept],
        bow_mm=bow[kept],
        x_mm=x[rows, at[kept]],
        theta_rad=theta[rows, at[kept]],
        centred=whole[kept],
    )


def _in_space(skin: Skin, x: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """(n, m, 3) places in space, and the outward normals there."""
    r, (r_x, r_t) = skin.radius(x, theta), skin.slopes(x, theta)
    c, s = np.cos(theta), np.sin(theta)
    normal = np.stack([-r_x * r, r * c + r_t * s, r * s - r_t * c], axis=2)
    return np.stack([x, r * c, r * s], axis=2), normal / np.linalg.norm(normal, axis=2)[..., None]


def _flat(spots: Floats, away: Floats) -> Floats:
    """(n, m, 2) the places as seen along `away` (n, 1, 3), from far off."""
    aside = np.cross(away, np.where(np.abs(away[..., :1]) < 0.9, [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]))
    aside = aside / np.linalg.norm(aside, axis=2)[..., None]
    upwards = np.cross(away, aside)
    return np.stack([(spots * aside).sum(axis=2), (spots * upwards).sum(axis=2)], axis=2)


def _first_run(shown: Bools) -> Ints:
    """(n, 2) first and last of the unbroken run around the middle that is shown."""
    middle = PLACES // 2
    before = np.cumprod(shown[:, middle::-1], axis=1).sum(axis=1)
    after = np.cumprod(shown[:, middle:], axis=1).sum(axis=1)
    return np.stack([middle - np.maximum(before, 1) + 1, middle + np.maximum(after, 1) - 1], axis=1)


def _bowed(picture: Floats, run: Ints) -> tuple[Floats, Floats, Ints]:
    """(n,) length between a run's ends in the picture, the greatest distance from that, and its index."""
    rows = np.arange(len(picture))
    start, stop = picture[rows, run[:, 0]], picture[rows, run[:, 1]]
    chord = stop - start
    length = np.linalg.norm(chord, axis=1)
    off = picture - start[:, None]
    aside = np.abs(off[..., 0] * chord[:, None, 1] - off[..., 1] * chord[:, None, 0])
    inside = (np.arange(PLACES) >= run[:, :1]) & (np.arange(PLACES) <= run[:, 1:])
    aside = np.where(inside, aside, 0.0) / np.maximum(length, 1e-9)[:, None]
    at = aside.argmax(axis=1)
    return length, aside[rows, at], at


def _stretches(part: Ragged) -> Floats:
    """(m, 2, 2) ends of the straight stretches of a part, one after the other."""
    ends = np.zeros((len(part.points), 2), np.int64)
    count = _cut(part.points, part.offsets, STRAIGHT_MM, ends)
    return np.asarray(part.points[ends[:count]], np.float64)


@compiled
def _cut(points: Floats, offsets: Ints, near_mm: float, ends: Ints) -> int:
    """Fills `ends` with the first and last point of each stretch: a stretch goes on while one straight line from its
    first point passes within `near_mm` of all others.
    """
    count = 0
    for part in range(len(offsets) - 1):
        first = offsets[part]
        while first < offsets[part + 1] - 1:
            along, low, high = 0.0, -math.pi, math.pi
            last = first
            reach = 0.0
            for k in range(first + 1, offsets[part + 1]):
                du, dv = points[k, 0] - points[first, 0], points[k, 1] - points[first, 1]
                far = math.hypot(du, dv)
                if far <= near_mm:
                    if reach > near_mm:
                        break
                    last = k
                    continue
                way = math.atan2(dv, du)
                if reach <= near_mm:
                    along = way
                turn = (way - along + math.pi) % TURN_RAD - math.pi
                if turn < low or turn > high or far < reach - near_mm:
                    break
                room = math.asin(near_mm / far)
                low, high = max(low, turn - room), min(high, turn + room)
                reach = max(reach, far)
                last = k
            ends[count, 0], ends[count, 1] = first, last
            count += 1
            first = last
    return count
