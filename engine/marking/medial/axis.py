"""The medial axis of an outline: the middles of all discs inside that touch it at two places or more.

Samples give its first graph; every node then comes to rest equally far from the true edges, and links are halved until
they are as straight, and their radius as even, as asked: of the sampling nothing is left. Where a layout is given,
distances are those on the skin: each node measures with the skin's metric at the node, so that a disc of its radius
touches the outline as it lies on the skin and never leaves it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from engine.artwork.thinning import thin
from engine.kernel.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints
from engine.kernel.ragged import Ragged
from engine.layout import Layout
from engine.marking.medial.edges import Edges, edges_of, gaps
from engine.marking.medial.plane import Plane
from engine.marking.medial.ridges import ridges_of
from engine.marking.medial.samples import sampled
from engine.marking.medial.settle import settled

__all__ = ["Medial", "medial_axis", "thinned"]

CHORD_MM = 0.002  # a fifth of what a carved outline may be off
THIN_MM = 0.001  # traced and flattened outlines are mostly redundant: a tenth of what the carved outline may miss
PIXEL_MM = 0.1  # the unit that thinning searches in
SAME_MM = 1e-5  # nodes closer than this are one
FAR_MM = 0.01  # a node from nearer stays: with the metric of where it is now it would move by a thousandth of that
BENDS_MM = 0.2  # half-way along no longer a link the metric is the mean of its ends': it bends over millimetres
SURELY = 0.8  # of a radius, not measured: samples stand a third of one apart, and skins stretch unevenly
HALVINGS = 6  # into 64 pieces at the most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Medial:
    """A graph. nodes : (n, 2) sheet mm. radius : (n,) to the nearest place of the outline, on the skin where a layout
    was given, else on the sheet. links : (m, 2) node numbers. length_mm : (m,) of each link, measured likewise.
    """

    nodes: Floats
    radius: Floats
    links: Ints
    length_mm: Floats

    def __post_init__(self) -> None:
        for name in ("nodes", "radius", "length_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "links", frozen_ints(self.links))

    @property
    def degree(self) -> Ints:
        """(n,) links that meet at each node."""
        return np.bincount(self.links.ravel(), minlength=len(self.nodes))

    def kept(self, links: Bools) -> "Medial":
        """The graph of the chosen links alone; nodes without a link are gone."""
        used, ends = np.unique(self.links[links], return_inverse=True)
        return Medial(
            nodes=self.nodes[used],
            radius=self.radius[used],
            links=ends.reshape(-1, 2),
            length_mm=self.length_mm[links],
        )


def medial_axis(
    rings: Ragged,
    layout: Layout | None = None,
    *,
    chord_mm: float = CHORD_MM,
    thin_mm: float = THIN_MM,
    wanted_mm: tuple[float, float] = (0.0, np.inf),
) -> Medial:
    """The axis of what rings hold (closed, sheet mm, exteriors counter-clockwise, holes clockwise); empty for none.

    chord_mm : links leave the axis, and their radius its true course, by no more. thin_mm : what may be left of the
    outline's detail before anything else is done, a quarter of chord_mm to half of it is well; 0: nothing is left out.
    wanted_mm : between which radii the axis is asked for: what has surely less may be left out, and links that have
    more all along may leave it by more.
    """
    plane = Plane.under(rings, layout)
    edges = edges_of(_thinned(plane.flat(rings), thin_mm))
    if not len(edges.line):
        none = np.zeros(0)
        return Medial(nodes=np.zeros((0, 2)), radius=none, links=np.zeros((0, 2), np.int64), length_mm=none)
    net = ridges_of(edges, sampled(edges))
    if wanted_mm[0] > 0:
        net = net.wider(SURELY * wanted_mm[0] / plane.most)
    nodes, radius, metric = _settled(edges, net.place, net.sides, net.tip, plane)
    held = (radius[net.link] >= 0.0).all(axis=1)
    links, pair = net.link[held], net.pair[held]
    nodes, radius, metric, links, pair = _joined(nodes, radius, metric, links, pair)
    nodes, radius, metric, links = _halved(edges, plane, (nodes, radius, metric, links, pair), chord_mm, wanted_mm[1])
    way = nodes[links[:, 1]] - nodes[links[:, 0]]
    E, F, G = (0.5 * (metric[links[:, 0]] + metric[links[:, 1]])).T
    length = np.sqrt(E * way[:, 0] ** 2 + 2.0 * F * way[:, 0] * way[:, 1] + G * way[:, 1] ** 2)
    return Medial(nodes=plane.sheet(nodes), radius=radius, links=links, length_mm=length)


def thinned(rings: Ragged, layout: Layout) -> Ragged:
    """The (closed) rings, sheet mm, without the points that move no place of them by more than THIN_MM on the skin."""
    plane = Plane.under(rings, layout)
    flat = _thinned(plane.flat(rings), THIN_MM)
    return Ragged(points=plane.sheet(flat.points), offsets=flat.offsets)


def _thinned(rings: Ragged, thin_mm: float) -> Ragged:
    if not thin_mm:
        return rings
    points = rings.points / PIXEL_MM
    thinned = thin(Ragged(points=points, offsets=rings.offsets), thin_mm / PIXEL_MM)
    return Ragged(points=thinned.points * PIXEL_MM, offsets=thinned.offsets)


def _settled(edges: Edges, place: Floats, sides: Ints, tip: Bools, plane: Plane) -> tuple[Floats, Floats, Floats]:
    """Nodes at rest, their radius and their metric; tips stay, with no radius."""
    nodes, radius = place.copy(), np.zeros(len(place))
    metric = np.tile([1.0, 0.0, 1.0], (len(place), 1))
    free = np.flatnonzero(~tip)
    sides = sides[free]
    for _ in range(1 if plane.layout is None else 2):
        before = nodes[free]
        if plane.layout is not None:  # asked where the node has come to; the node moves on a little
            metric[free] = plane.metric(before)
        nodes[free], radius[free] = settled(edges, before, sides, metric[free])
        far = np.hypot(*(nodes[free] - before).T) > FAR_MM
        free, sides = free[far], sides[far]
    if plane.layout is not None:
        metric[tip] = plane.metric(nodes[tip])
    return nodes, radius, metric


def _joined(
    nodes: Floats, radius: Floats, metric: Floats, links: Ints, pair: Ints
) -> tuple[Floats, Floats, Floats, Ints, Ints]:
    """Nodes that came to rest at one place made one (a disc that touches at four places or more)."""
    size = np.hypot(*(nodes[links[:, 0]] - nodes[links[:, 1]]).T)
    short = size < SAME_MM
    near = coo_matrix((np.ones(short.sum()), (links[short, 0], links[short, 1])), shape=(len(nodes), len(nodes)))
    _, label = connected_components(near, directed=False)
    used, ends = np.unique(label[links[~short]], return_inverse=True)
    chosen = np.zeros(label.max(initial=0) + 1, np.int64)
    chosen[label[::-1]] = np.arange(len(nodes))[::-1]
    chosen = chosen[used]
    links, pair = ends.reshape(-1, 2), pair[~short]
    low, high = np.sort(links, axis=1).T
    _, once = np.unique(low * len(chosen) + high, return_index=True)
    once = once[low[once] != high[once]]
    return nodes[chosen], radius[chosen], metric[chosen], links[once], pair[once]


def _halved(
    edges: Edges, plane: Plane, graph: tuple[Floats, Floats, Floats, Ints, Ints], chord_mm: float, most_mm: float
) -> tuple[Floats, Floats, Floats, Ints]:
    """Links halved until their middle lies on the axis and has the mean radius; only new ones are looked at again, and
    those that have more than most_mm for a radius all along not at all.
    """
    nodes, radius, metric, links, pair = graph
    fresh = _narrow(edges, graph, np.arange(len(links)), most_mm)
    for _ in range(HALVINGS):
        size = np.hypot(*(nodes[links[fresh, 0]] - nodes[links[fresh, 1]]).T)
        long = size > 4.0 * chord_mm
        fresh, size = fresh[long], size[long]
        if not len(fresh):
            break
        one, two = links[fresh].T
        middle, at = 0.5 * (nodes[one] + nodes[two]), 0.5 * (metric[one] + metric[two])
        at[size > BENDS_MM] = plane.metric(middle[size > BENDS_MM])
        exact, true = settled(edges, middle, pair[fresh], at)
        off = np.maximum(np.hypot(*(exact - middle).T), np.abs(true - 0.5 * (radius[one] + radius[two])))
        cut = (off > 0.5 * chord_mm) & (true >= 0.0)  # half: away from the middle a link may stray a little more
        fresh, new = fresh[cut], len(nodes) + np.arange(cut.sum())
        nodes, radius = np.concatenate([nodes, exact[cut]]), np.concatenate([radius, true[cut]])
        metric = np.concatenate([metric, at[cut]])
        half = np.stack([new, links[fresh, 1]], axis=1)
        links = links.copy()
        links[fresh, 1] = new
        links, pair = np.concatenate([links, half]), np.concatenate([pair, pair[fresh]])
        fresh = np.concatenate([fresh, len(links) - len(half) + np.arange(len(half))])
        fresh = _narrow(edges, (nodes, radius, metric, links, pair), fresh, most_mm)
    return nodes, radius, metric, links


def _narrow(edges: Edges, graph: tuple[Floats, Floats, Floats, Ints, Ints], asked: Ints, most_mm: float) -> Ints:
    """Those of the links asked that may have no more than most_mm for a radius somewhere: between two points that face
    each other it is least along a link, and at both its ends it may be as large as one likes.

    Left out are links whose two sides are more than twice that apart, and whose ends are both wider by more than the
    link is long: a radius changes by no more than the way does, and from the nearer end no place is half so far.
    """
    if not np.isfinite(most_mm):
        return asked
    nodes, radius, metric, links, pair = graph
    one, two = links[asked].T
    size = np.hypot(*(nodes[one] - nodes[two]).T)
    near = np.minimum(radius[one], radius[two]) - size <= most_mm
    facing = gaps(edges.line, pair[asked], 0.5 * (metric[one] + metric[two])) <= 2.0 * most_mm
    return asked[near | facing]
