"""What the suites of the marking styles share: art, layouts, and referees that know nothing of how a style works."""

import numpy as np
import shapely
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.blank import Sampled
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from tests.blank import skins
from tests.blank.skins import SKINS


def bumpy():
    """A knobbly gourd held 2 mm off its axis: knobs of 0.4 mm, 8 mm long, twelve around."""
    x, t = np.linspace(5, 125, 121)[:, None], np.radians(np.arange(0, 360, 3))[None, :]
    return Sampled.of(28 + 0.4 * np.sin(2 * np.pi * x / 8) * np.cos(12 * t) + 2 * np.cos(t - 1), 5.0, 125.0)


BUMPY = bumpy()


def ring(n, r, at=(0.0, 0.0), turn=1):
    t = turn * np.linspace(0, 2 * np.pi, n + 1)
    p = np.stack([at[0] + r * np.cos(t), at[1] + r * np.sin(t)], 1)
    p[-1] = p[0]
    return p


def art(scale=1.0):
    """A disc with a hole, a star beside it and two open lines."""
    t = np.linspace(0, 2 * np.pi, 11)
    star = np.stack([np.cos(t), np.sin(t)], 1) * np.where(np.arange(11) % 2, 2.0, 5.0)[:, None] + [0.5, -12]
    star[-1] = star[0]
    rings = Ragged.of([scale * p for p in (ring(90, 6.0), ring(60, 2.5, (1, 1), -1), star)])
    return Drawing(width_mm=20, height_mm=28, rings=rings, lines=Ragged.of([np.array([[-8.0, 8], [8, 10]])]))


def regions(drawing):
    """The region that a drawing's rings hold."""
    return shapely.build_area(
        shapely.geometrycollections(shapely.linearrings(drawing.rings.points, indices=drawing.rings.owner))
    )


def middle(skin, projection=Projection.EQUIDISTANT):
    low, high = skin.x_range_mm
    return lay_out(skin, Placement(x_mm=low + 0.5 * (high - low), angle_deg=175, projection=projection))


def on(name, projection=Projection.EQUIDISTANT, x=None):
    """The layout of a named skin; x : of the art's middle, the blank's own where it is None."""
    skin = SKINS[name]
    middle = 0.5 * sum(skin.x_range_mm) if x is None else x
    return lay_out(skin, Placement(x_mm=middle, angle_deg=170.0, projection=projection))


def in_space(layout, uv):
    return skins.in_space(layout.skin, *layout.wrap(uv))


def dense(part, step):
    """Places along every run, no farther apart than `step` on the sheet."""
    lines = shapely.linestrings(part.points, indices=part.owner)
    return shapely.get_coordinates(shapely.segmentize(lines, step))


def apart(layout, rings, others, step=0.02):
    """(n,) from dense places on `rings` to the nearest place of `others`, through space."""
    return cKDTree(in_space(layout, dense(others, 0.25 * step))).query(in_space(layout, dense(rings, step)))[0]


def widest(strokes, layout, region, step=0.03):
    """The greatest distance through space from any place of `region`, on a net `step` wide, to the nearest cut."""
    low_u, low_v, high_u, high_v = shapely.bounds(region)
    net = np.stack(np.meshgrid(np.arange(low_u, high_u, step), np.arange(low_v, high_v, step)), -1).reshape(-1, 2)
    shapely.prepare(region)
    net = net[shapely.contains_xy(region, *net.T)]
    return cKDTree(in_space(layout, dense(strokes.line, 0.02))).query(in_space(layout, net))[0].max()


def nearest(part, layout, *, beyond_mm, step=0.03):
    """(n,) less than a third of beyond_mm: from places on every run to places on another one, or on the same one if
    that is more than beyond_mm away along it.
    """
    runs = shapely.segmentize(shapely.linestrings(part.points, indices=part.owner), step)
    uv, owner = shapely.get_coordinates(runs, return_index=True)
    space = in_space(layout, uv)
    way = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(space, axis=0), axis=1))])
    ends = np.searchsorted(owner, np.arange(len(runs) + 1))
    first, last = ends[:-1], ends[1:] - 1
    closed = np.linalg.norm(space[first] - space[last], axis=1) < 1e-6
    i, j = cKDTree(space).query_pairs(beyond_mm / 3, output_type="ndarray").T
    along = np.abs(way[i] - way[j])
    along = np.where(closed[owner[i]], np.minimum(along, (way[last] - way[first])[owner[i]] - along), along)
    other = (owner[i] != owner[j]) | (along > beyond_mm)
    return np.linalg.norm(space[i[other]] - space[j[other]], axis=1)
