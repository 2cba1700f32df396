"""What lies deeper inside an outline than a distance, measured on the skin.

Each region is drawn out as the skin is under it on the mean and moved in there (shapely's buffer), by a little less
than asked wherever the skin's scale varies; then every point of the new rings is moved to its distance from the outline
in the skin's own metric at the point. In a neck that is too narrow for it the two sides of a ring fall on the middle:
the true distance of any place is told beside, so that a depth can be held to it.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from engine.artwork.regions import Objects, polygons_of, rings_of
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged
from engine.layout import Layout
from engine.marking.medial.edges import Edges, edges_of, foot, nearest_from
from engine.marking.medial.plane import PLAIN, drawn_out, greatest, is_plain, squares

__all__ = ["Region", "region_of"]

STEP_MM = 0.15  # along a ring, where the skin is not flat: between points the metric bends by next to nothing
ARC_MM = 0.001  # how far the chords of an arc round a corner come nearer to it
ROUNDS, PUSHES = 3, 4  # how often the metric is asked again, and points pushed in between
EVEN_MM = 1e-4  # where a point moved by less, the metric is the same: it bends over millimetres
THERE_MM = 1e-5  # a point so near to its distance is pushed no more: a hundredth of what thinning may move the outline


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Region:
    """Polygons on the sheet with the mean drawing-out of the skin under each.

    polygons : (n,). out, back : (n, 2, 2) from the sheet to the drawn-out plane and from it. most : (n,) mm on the skin
    for a mm of that plane, at most. edges : of the outline.
    """

    layout: Layout
    polygons: Objects
    out: Floats
    back: Floats
    most: Floats
    edges: Edges

    @property
    def is_flat(self) -> bool:
        """Whether a mm of sheet is a mm of skin wherever the outline runs."""
        return bool(np.abs(self.out - np.eye(2)).max(initial=0.0) < PLAIN and self.most.max(initial=1.0) < 1.0 + PLAIN)

    def inset(self, by_mm: float) -> Objects:
        """(n,) what of each polygon lies deeper inside than by_mm, and where the skin's scale varies a little more than
        that, as polygons of the drawn-out planes.
        """
        quads = int(np.clip(np.ceil(0.25 * np.pi / np.sqrt(2.0 * ARC_MM / max(by_mm, ARC_MM))), 4, 64))
        return np.asarray(shapely.buffer(_moved(self.polygons, self.out), -by_mm / self.most, quad_segs=quads))

    def rings(self, drawn: Objects, by_mm: float | None = None) -> Ragged:
        """The rings of (n,) drawn-out polygons back on the sheet, moved to by_mm from the outline if that is given."""
        if by_mm is None or self.is_flat:
            return rings_of(polygons_of(_moved(drawn, self.back)))
        drawn = np.asarray(shapely.segmentize(drawn, STEP_MM))
        rings = rings_of(polygons_of(_moved(drawn, self.back)))
        points, far = rings.points.copy(), np.arange(len(rings.points))
        for _ in range(ROUNDS):
            pushed = _pushed(self.edges, points[far], self.layout.tensor(points[far]), by_mm)
            moved = np.hypot(*(pushed - points[far]).T) > EVEN_MM
            points[far] = pushed
            far = far[moved]
        return Ragged(points=points, offsets=rings.offsets)

    def distance(self, places: Floats) -> Floats:
        """(k,) mm on the skin from places (k, 2) of the sheet to the outline."""
        return _distances(self.edges, places, self.layout.tensor(places))


def region_of(rings: Ragged, layout: Layout) -> Region:
    """The regions that rings hold (closed, disjoint, even-odd)."""
    closed = shapely.linearrings(rings.points, indices=rings.owner)
    if shapely.is_ccw(closed).all():  # no holes: the rings are the regions, and need not be put together
        polygons = shapely.polygons(closed)
    else:
        polygons = polygons_of(shapely.build_area(shapely.geometrycollections(closed)))
    points, owner = shapely.get_coordinates(polygons, return_index=True)
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    metric = squares(layout.tensor(points))
    out = np.tile(np.eye(2), (len(first), 1, 1))
    if not is_plain(metric):
        out = drawn_out(np.add.reduceat(metric, first) / np.bincount(owner)[:, None, None])
    back = np.asarray(np.linalg.inv(out), np.float64)
    most = np.maximum.reduceat(greatest(metric, back[owner]), first)
    return Region(layout=layout, polygons=polygons, out=out, back=back, most=most, edges=edges_of(rings))


def _moved(shapes: Objects, matrix: Floats) -> Objects:
    """(n,) shapes, each by its own matrix (n, 2, 2)."""
    points, owner = shapely.get_coordinates(shapes, return_index=True)
    return np.asarray(shapely.set_coordinates(shapes.copy(), np.einsum("kij,kj->ki", matrix[owner], points)))


@compiled
def _pushed(edges: Edges, points: Floats, metric: Floats, by: float) -> Floats:
    line, box, leaf = edges.line, edges.box, edges.leaf
    out, i = points.copy(), 0
    for n in range(len(points)):
        x, y, E, F, G = points[n, 0], points[n, 1], metric[n, 0], metric[n, 1], metric[n, 2]
        for _ in range(PUSHES):
            r, i = nearest_from(line, box, leaf, i, x, y, E, F, G)
            if abs(by - r) < THERE_MM:
                break
            t = foot(line, i, x, y, E, F, G)[3]
            grow = min(0.5, max(-0.5, (by - r) / max(r, 1e-9)))
            x += grow * (x - line[i, 0] - t * line[i, 2])
            y += grow * (y - line[i, 1] - t * line[i, 3])
        out[n, 0], out[n, 1] = x, y
    return out


@compiled
def _distances(edges: Edges, points: Floats, metric: Floats) -> Floats:
    line, box, leaf = edges.line, edges.box, edges.leaf
    out, i = np.zeros(len(points)), 0
    for n in range(len(points)):
        E, F, G = metric[n, 0], metric[n, 1], metric[n, 2]
        out[n], i = nearest_from(line, box, leaf, i, points[n, 0], points[n, 1], E, F, G)
    return out
