"""The medial axis against closed forms: a box, a ring, a wedge."""

import numpy as np
import pytest
import shapely

from engine.kernel.ragged import Ragged
from engine.layout import Placement, lay_out
from engine.marking.medial import branches, medial_axis, pruned, trails, within
from tests.blank.skins import SKINS
from tests.marking import referee
from tests.marking.contract import regions


def box(w, h):
    return Ragged.of([np.array([[0, 0], [w, 0], [w, h], [0, h], [0, 0]], float)])


def test_a_box_has_a_roof():
    """The ridge of a 10 x 4 roof is 6 long, its four hips 2 sqrt 2, and the height is the distance from the eaves."""
    axis = medial_axis(box(10, 4))
    assert axis.length_mm.sum() == pytest.approx(6 + 8 * np.sqrt(2), abs=1e-9)
    eaves = np.minimum.reduce([axis.nodes[:, 0], 10 - axis.nodes[:, 0], axis.nodes[:, 1], 4 - axis.nodes[:, 1]])
    assert axis.radius == pytest.approx(eaves, abs=1e-9)
    assert sorted(np.bincount(axis.degree)[[1, 3]]) == [2, 4]
    node, offsets = branches(axis)
    assert len(offsets) - 1 == 5
    ends = axis.nodes[np.stack([node[offsets[:-1]], node[offsets[1:] - 1]])]
    for corner in ((0, 0), (10, 0), (10, 4), (0, 4), (2, 2), (8, 2)):
        assert np.hypot(*(ends - corner).reshape(-1, 2).T).min() < 1e-9
    assert len(trails(axis)[1]) - 1 == 3


def test_a_branch_is_worth_what_its_corner_sticks_out():
    """A corner of a square of half-width 1 is sqrt 2 - 1 beyond the disc in the middle."""
    axis = medial_axis(box(2, 2))
    for least, hips in ((0.40, 4), (0.42, 1)):  # what burns last always stays
        left = pruned(axis, np.full(len(axis.nodes), least))
        assert left.length_mm.sum() == pytest.approx(hips * np.sqrt(2))


def test_the_part_between_two_radii_is_cut_where_they_are():
    axis = within(medial_axis(box(10, 4)), 0.5, 1.5)
    assert (axis.radius.min(), axis.radius.max()) == (0.5, 1.5)
    assert axis.length_mm.sum() == pytest.approx(4 * np.sqrt(2))


def test_a_washer_has_a_circle_in_the_middle():
    t = np.linspace(0, 2 * np.pi, 721)
    rings = [np.stack([r * np.cos(s * t), r * np.sin(s * t)], 1) for r, s in ((5, 1), (3, -1))]
    for ring in rings:
        ring[-1] = ring[0]
    axis = medial_axis(Ragged.of(rings))
    axis = pruned(axis, np.full(len(axis.nodes), 0.01))
    assert np.hypot(*axis.nodes.T) == pytest.approx(4, abs=1e-3)
    assert axis.radius == pytest.approx(1, abs=1e-3)
    assert (axis.degree == 2).all()
    node, offsets = trails(axis)
    assert len(offsets) == 2
    assert node[0] == node[-1]


def test_no_disc_leaves_the_outline_and_every_place_of_it_is_touched():
    shape = referee.glyph(referee.face(), "&", 10)
    drawing = referee.drawing_of(shape)
    axis = medial_axis(drawing.rings)
    edge = regions(drawing).boundary
    far = shapely.distance(edge, shapely.points(axis.nodes))
    assert np.abs(axis.radius - far).max() < 0.0015  # the outline is thinned by 0.001 mm
    spots = shapely.get_coordinates(shapely.segmentize(edge, 0.05))
    mid = axis.nodes[axis.links].mean(1)
    nodes, radius = np.concatenate([axis.nodes, mid]), np.concatenate([axis.radius, axis.radius[axis.links].mean(1)])
    short = np.linalg.norm(spots[:, None] - nodes[None], axis=2) - radius
    assert short.min(1).max() < 0.004


@pytest.mark.parametrize("skin", ["flat", "stations", "ovoid"])
def test_the_part_that_is_wanted_is_that_of_the_whole(skin):
    """Asked for between two radii alone, it is there the axis that the whole outline has."""
    shapes = [shapely.affinity.translate(referee.glyph(referee.face(), c, 12), 11 * k) for k, c in enumerate("&Rg")]
    rings = referee.drawing_of(shapely.union_all(shapes)).rings
    layout = None if skin == "flat" else lay_out(SKINS[skin], Placement(x_mm=30))
    least, most = 0.3, 0.6
    whole = within(medial_axis(rings, layout), least, most)
    part = medial_axis(rings, layout, wanted_mm=(least, most))
    assert len(part.nodes) < len(medial_axis(rings, layout).nodes)
    part = within(part, least, most)
    assert part.length_mm.sum() == pytest.approx(whole.length_mm.sum(), rel=1e-3)
    for one, other in ((whole, part), (part, whole)):
        lines = shapely.linestrings(other.nodes[other.links])
        points = shapely.points(one.nodes)
        k, near = shapely.STRtree(lines).query_nearest(points, all_matches=False)
        assert shapely.distance(points[k], lines[near]).max() < 0.002
        share = shapely.line_locate_point(lines[near], points[k], normalized=True)
        first, last = other.radius[other.links[near]].T
        assert first + share * (last - first) == pytest.approx(one.radius[k], abs=0.002)


def hourglass(gap_mm, sharp_mm, shift_mm):
    """Two rooms and a passage over a needle's point, below another needle's or, where it is shifted, below a wall."""
    low, high = -0.5 * gap_mm, 0.5 * gap_mm
    needle = [(shift_mm - sharp_mm, -6.0), (shift_mm, low), (shift_mm + sharp_mm, -6.0)]
    needles = [(6.0, -6.0), (6.0, 8.0), (sharp_mm, 8.0), (0.0, high), (-sharp_mm, 8.0), (-6.0, 8.0)]
    ring = [(-6.0, -6.0), *needle, *([(6.0, -6.0), (6.0, high), (-6.0, high)] if shift_mm else needles), (-6.0, -6.0)]
    return Ragged.of([np.array(ring)])


@pytest.mark.parametrize("gap_mm", [0.05, 0.1, 0.2, 0.3])
@pytest.mark.parametrize("sharp_mm", [0.4, 2.0])
@pytest.mark.parametrize("shift_mm", [0.0, 0.1, 0.37, 0.5])
def test_a_waist_is_found_however_wide_it_is_on_both_sides(gap_mm, sharp_mm, shift_mm):
    """Between a point and what it faces the axis has half the gap for a radius, less than at any node known at first;
    and the part that is asked for is as long as it is of the whole axis.
    """
    rings, least, most = hourglass(gap_mm, sharp_mm, shift_mm), 0.02, 0.2
    whole = within(medial_axis(rings), least, most)
    part = within(medial_axis(rings, wanted_mm=(least, most)), least, most)
    assert part.length_mm.sum() == pytest.approx(whole.length_mm.sum(), rel=1e-3)
    at = np.hypot(*(part.nodes - [shift_mm, 0.0]).T).argmin()
    assert np.hypot(*(part.nodes[at] - [shift_mm, 0.0])) < 0.02
    assert part.radius[at] == pytest.approx(0.5 * gap_mm, abs=0.004)


def test_nothing_has_no_axis():
    axis = medial_axis(Ragged.of([]))
    assert (len(axis.nodes), len(axis.links), len(trails(axis)[0])) == (0, 0, 0)
    speck = np.array([[0, 0], [1e-7, 0], [0, 1e-7], [0, 0]])
    assert not len(medial_axis(Ragged.of([speck])).links)
