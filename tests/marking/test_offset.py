"""Regions grown and drawn in: by a general-purpose library on a flat skin, by distances through space on any other."""

import numpy as np
import pytest
import shapely

from engine.artwork import Drawing
from engine.artwork.regions import rings_of
from engine.blank import Cylinder
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from engine.marking.ground import Ground
from engine.marking.offset import offset, regions_of
from tests.blank.skins import SKINS
from tests.marking.contract import BUMPY, apart, art, middle, regions, ring


def grounded(layout, rings, by):
    return Ground.under(layout, rings.points, 2 * abs(by))


@pytest.mark.parametrize("by", [0.15, -0.15, 1.0, -1.0, -1.9, 2.6, -5.0])
def test_on_a_cylinder_it_is_what_a_general_library_makes_of_the_flat_sheet(by):
    """shapely's (GEOS's) buffer. At 2.6 the hole closes, at -1.9 the star is gone, at -5 all of it."""
    rings = art().rings
    ours = shapely.union_all(offset(regions_of(rings), by, grounded(middle(SKINS["cylinder"]), rings, by)))
    theirs = shapely.buffer(regions(art()), by, quad_segs=64)
    assert ours.is_valid
    assert ours.symmetric_difference(theirs).area < 0.002 * theirs.length + 1e-12
    assert theirs.is_empty == ours.is_empty
    assert theirs.is_empty or shapely.hausdorff_distance(ours.boundary, theirs.boundary) < 0.004


def test_random_scribbles_wind_as_a_general_library_says():
    rng = np.random.default_rng(5)
    flat = middle(Cylinder(diameter_mm=100, length_mm=200))
    for _ in range(8):
        spots = shapely.buffer(shapely.points(rng.uniform(-10, 10, (30, 2))), rng.uniform(0.3, 3, 30), quad_segs=4)
        scribble = shapely.buffer(shapely.linestrings(rng.uniform(-10, 10, (8, 2))), 0.4, quad_segs=3)
        shape = shapely.union_all([*spots, scribble])
        rings = rings_of(shapely.get_parts(shape))
        for by in rng.uniform(-1.2, 1.2, 3):
            ours = shapely.union_all(offset(regions_of(rings), by, grounded(flat, rings, by)))
            theirs = shapely.buffer(shape, by, quad_segs=64)
            assert ours.symmetric_difference(theirs).area < 0.003 * (theirs.length + 1)


@pytest.mark.parametrize("projection", [Projection.EQUIDISTANT, Projection.TRUE_WIDTH, Projection.FROM_VIEW])
@pytest.mark.parametrize("name", [*sorted(SKINS), "bumpy"])
@pytest.mark.parametrize("by", [0.3, -0.3])
def test_on_every_skin_the_new_outline_is_everywhere_as_far_away_as_asked(name, by, projection):
    """Measured through space: a chord of 0.3 mm on a radius of 10 mm is 11 nm short of the arc."""
    layout = middle(BUMPY if name == "bumpy" else SKINS[name], projection)
    rings = art(0.8).rings
    moved = rings_of(offset(regions_of(rings), by, grounded(layout, rings, by)))
    far = apart(layout, moved, rings)
    assert abs(far - 0.3).max() < 0.004
    assert apart(layout, rings, moved).min() > 0.3 - 0.004


def test_on_a_stretched_sheet_the_sheet_offset_is_not_true_and_this_one_is():
    """Closed form: equidistant, a box 20 mm up an egg: across it is r0/r(x) wider on the sheet, along it is not."""
    skin = SKINS["ovoid"]
    layout = lay_out(skin, Placement(x_mm=28))
    box = Ragged.of([np.array([[-4.0, 19], [4, 19], [4, 21], [-4, 21], [-4, 19]])])
    moved = offset(regions_of(box), 0.5, grounded(layout, box, 0.5))
    x, _ = layout.wrap(np.array([[0.0, 20.0]]))
    wider = 0.5 * layout.r0_mm / float(skin.radius(x, np.zeros(1))[0])
    assert wider > 0.65
    left, low, right, high = shapely.total_bounds(moved)
    assert (left, right) == pytest.approx((-4 - wider, 4 + wider), abs=0.03)  # the radius falls by 4 % over the box
    assert (low, high) == pytest.approx((18.5, 21.5), abs=1e-3)


def test_nothing_is_left_of_nothing_and_of_what_is_narrower():
    layout = middle(SKINS["ovoid"])
    assert len(regions_of(Drawing(width_mm=1, height_mm=1).rings)) == 0
    dot = Ragged.of([ring(24, 0.2)])
    assert len(offset(regions_of(dot), -0.25, grounded(layout, dot, 0.25))) == 0


def test_where_the_layout_holds_no_skin_the_metric_goes_on_as_at_the_edge():
    skin = SKINS["ovoid"]
    layout = lay_out(skin, Placement(x_mm=28))
    end = layout.unwrap(np.array([56.9]), np.zeros(1))[0]
    ground = Ground.under(layout, end[None], 5.0)
    beyond = end + [0.0, 4.5]
    assert not layout.holds(beyond[None])[0]
    assert np.isfinite(ground.at(beyond[None])).all()
    assert ground.at(beyond[None])[0] == pytest.approx(ground.at(beyond[None] + 5)[0])


@pytest.mark.parametrize("by", [-0.165, -0.4, 0.165])
def test_waves_finer_than_the_way_are_drawn_in_as_a_general_library_does_it(by):
    """shapely's (GEOS's) buffer: a disc whose outline has 97 waves, which the moved curve folds over by the dozen."""
    t = np.linspace(0, 2 * np.pi, 1334)
    wavy = np.stack([(2.5 + 0.05 * np.sin(97 * t)) * c(t) for c in (np.cos, np.sin)], axis=1)
    wavy[-1] = wavy[0]
    rings = Ragged.of([wavy])
    ours = shapely.union_all(offset(regions_of(rings), by, grounded(middle(SKINS["cylinder"]), rings, by)))
    theirs = shapely.buffer(shapely.polygons(wavy), by, quad_segs=64)
    assert shapely.hausdorff_distance(ours.boundary, theirs.boundary) < 0.005
    assert ours.symmetric_difference(theirs).area < 0.002 * theirs.length


def test_only_what_surely_holds_no_disc_is_gone_before_it_is_drawn_in():
    """A disc of the way's radius and a bit is left as a speck; one a bit smaller is not, nor what is long and thin."""
    flat = middle(SKINS["cylinder"])
    for radius, left in ((0.302, 1), (0.298, 0)):
        rings = Ragged.of([ring(200, radius)])
        assert len(offset(regions_of(rings), -0.3, grounded(flat, rings, 0.3))) == left
    strip = Ragged.of([np.array([[-9.0, -0.29], [9, -0.29], [9, 0.29], [-9, 0.29], [-9, -0.29]])])
    assert len(offset(regions_of(strip), -0.3, grounded(flat, strip, 0.3))) == 0


def test_a_ring_by_itself_is_a_region_and_one_with_a_hole_is_put_together():
    rings = art().rings
    assert sorted(len(shapely.get_rings(one)) for one in regions_of(rings)) == [1, 2]
    discs = Ragged.of([ring(90, 2.0), ring(60, 1.0, (5, 1))])
    exact = [0.5 * n * r * r * np.sin(2 * np.pi / n) for n, r in ((90, 2.0), (60, 1.0))]
    assert shapely.area(regions_of(discs)) == pytest.approx(exact, rel=1e-12)
