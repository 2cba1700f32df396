"""Rings in each other: their distances by a referee in space on every skin, and how they are strung."""

import numpy as np
import pytest
import shapely
from pydantic import TypeAdapter

from engine.artwork import Drawing
from engine.artwork.regions import rings_of
from engine.job.marking import MarkingDocument
from engine.kernel.errors import MarkingError
from engine.kernel.ragged import Ragged
from engine.kernel.values import Tool
from engine.layout import Projection
from engine.marking import Rings
from engine.marking.ground import Ground
from engine.marking.nested import nested
from engine.marking.offset import regions_of
from tests.blank.skins import SKINS
from tests.marking.contract import BUMPY, art, middle, nearest, regions, ring, widest

PITCH = 0.5
EYE = Drawing(width_mm=20, height_mm=28, rings=art(0.9).rings)  # a disc with a hole off its middle, and a star
NAMES = [*sorted(SKINS), "bumpy"]
LAID = [Projection.EQUIDISTANT, Projection.FROM_VIEW]


def laid(name, projection=Projection.EQUIDISTANT):
    return middle(BUMPY if name == "bumpy" else SKINS[name], projection)


def box(half_u, half_v):
    return np.array([[-half_u, -half_v], [half_u, -half_v], [half_u, half_v], [-half_u, half_v], [-half_u, -half_v]])


def drawing(*rings):
    return Drawing(width_mm=30, height_mm=30, rings=Ragged.of(rings))


def inner_rings(art, layout):
    """All rings of the art but its own outline."""
    levels = nested(regions_of(art.rings), PITCH, Ground.under(layout, art.rings.points, 1.0))
    return rings_of(np.concatenate([level.regions for level in levels[1:]]))


def test_the_document_gives_the_style():
    """A cone of 60 degrees with a tip of 0.1 at 0.2 mm is 0.330940 mm wide (worked by hand)."""
    read = TypeAdapter(MarkingDocument).validate_python
    assert read({"style": "rings"}).value(Tool(), 0.2) == Rings(pitch_mm=0.2978, inset_mm=0.16547)
    words = {"style": "rings", "pitch_mm": 0.4, "inset_mm": 0, "joined": False}
    assert read(words).value(Tool(), 0.2) == Rings(pitch_mm=0.4, inset_mm=0.0, joined=False)


@pytest.mark.parametrize("projection", LAID, ids=lambda p: p.value)
@pytest.mark.parametrize("name", NAMES)
def test_no_place_of_the_art_is_farther_than_half_the_pitch_from_a_cut(name, projection):
    layout = laid(name, projection)
    strokes = Rings(pitch_mm=PITCH).mark(EYE, layout).strokes
    assert 0.94 < widest(strokes, layout, regions(EYE)) / (0.5 * PITCH) <= 1.0


@pytest.mark.parametrize("projection", LAID, ids=lambda p: p.value)
@pytest.mark.parametrize("name", NAMES)
def test_no_two_ways_are_nearer_than_the_least_share_of_the_pitch(name, projection):
    """Rings with other rings, and with themselves where they come back after three pitches."""
    layout = laid(name, projection)
    levels = nested(regions_of(EYE.rings), PITCH, Ground.under(layout, EYE.rings.points, 1.0))
    rings = rings_of(np.concatenate([level.regions for level in levels]))
    assert nearest(rings, layout, beyond_mm=3 * PITCH).min() >= 0.45 * PITCH


def test_a_ridge_lies_half_a_pitch_from_every_ring():
    layout = laid("ovoid")
    levels = nested(regions_of(EYE.rings), PITCH, Ground.under(layout, EYE.rings.points, 1.0))
    rings = shapely.union_all([shapely.boundary(one) for level in levels for one in level.regions])
    ridges = np.concatenate([level.ridges for level in levels])
    spots = shapely.points(np.concatenate([level.spots for level in levels]))
    assert len(ridges) > 10
    assert len(spots) > 2
    # On the sheet, where across a mm is worth a mm at the least and the egg narrows by a fifth at the most.
    assert shapely.distance(np.concatenate([ridges, spots]), rings).min() > 0.45 * PITCH


def test_of_a_plain_disc_the_rings_are_circles_a_step_apart():
    """Closed form: radii 6, 6 - step ...; the last, under half a step, is a spot that the ring before goes to."""
    levels = nested(regions_of(drawing(ring(400, 6.0)).rings), PITCH, Ground.under(laid("cylinder"), ring(4, 6.0), 1.0))
    radii = [np.hypot(*shapely.get_coordinates(level.regions).T).mean() for level in levels]
    assert radii == pytest.approx(6 - 0.98 * PITCH * np.arange(len(radii)), abs=0.004)
    assert sum(len(level.ridges) + len(level.spots) for level in levels) <= 1


@pytest.mark.parametrize("wide", [0.3, 0.5, 0.7, 1.0, 1.3, 1.42, 1.5, 1.7, 2.0, 2.2])
def test_a_long_strip_of_any_width_is_filled_and_never_crowded(wide):
    """The fronts of two flanks meet in every way there is, as the strip's width is any part of the pitch."""
    layout = laid("cylinder")
    strip = drawing(box(8.0, 0.5 * wide * PITCH))
    strokes = Rings(pitch_mm=PITCH).mark(strip, layout).strokes
    assert widest(strokes, layout, regions(strip)) <= 0.5 * PITCH
    middle_part = shapely.intersection(
        shapely.linestrings(strokes.line.points, indices=strokes.line.owner), shapely.box(-5, -3, 5, 3)
    )
    heights = np.unique(np.round(shapely.get_coordinates(middle_part)[:, 1], 2))
    gaps = np.diff(np.sort(np.append(heights, []))) / PITCH
    gaps = gaps[gaps > 0.05]
    assert gaps.max(initial=0.0) <= 1.0
    assert gaps.min(initial=1.0) >= min(0.44, wide)


def test_a_neck_that_narrows_slowly_has_no_two_ways_too_near():
    layout = laid("cylinder")
    wedge = drawing(np.array([[-9.0, 0.0], [9, -1.6], [9, 1.6], [-9, 0]]))
    assert nearest(inner_rings(wedge, layout), layout, beyond_mm=3 * PITCH).min() >= 0.45 * PITCH


@pytest.mark.parametrize(("arms", "wide"), [(3, 2.4), (4, 2.0), (4, 2.2), (5, 2.0), (5, 2.2)])
def test_where_arms_about_two_pitches_wide_meet_the_ways_round_the_fork_keep_apart(arms, wide):
    """Every arm is a neck and its crest line forks: were the spurs all dropped at once, ways would come nearer."""
    layout = laid("cylinder")
    ways = [(5 * np.cos(t), 5 * np.sin(t)) for t in 0.3 + 2 * np.pi * np.arange(arms) / arms]
    lines = shapely.linestrings([[(0.0, 0.0), way] for way in ways])
    star = shapely.union_all(shapely.buffer(lines, 0.5 * wide * PITCH, cap_style="flat"))
    star = drawing(shapely.get_coordinates(shapely.orient_polygons(star).exterior))
    assert nearest(inner_rings(star, layout), layout, beyond_mm=3 * PITCH).min() >= 0.45 * PITCH
    assert widest(Rings(pitch_mm=PITCH).mark(star, layout).strokes, layout, regions(star)) <= 0.5 * PITCH


WAISTS = [  # necks that end in a tip, facing another tip across next to nothing
    [
        (0.28, 3.3),
        (-1.34, 3.78),
        (-1.26, 1.0),
        (-2.57, 1.0),
        (-4.12, -0.02),
        (-2.39, -0.95),
        (-2.12, -2.11),
        (-0.64, -0.86),
        (0.22, -2.88),
        (1.9, -2.91),
        (2.66, -1.48),
        (3.18, 0.02),
        (2.16, 1.28),
        (0.53, 1.25),
    ],
    [
        (0.9, -2.64),
        (0.81, -1.35),
        (1.23, -0.93),
        (2.77, -0.16),
        (0.99, 0.2),
        (1.36, 1.53),
        (0.69, 2.75),
        (-0.57, 2.4),
        (-1.58, 1.94),
        (-1.53, 0.54),
        (-1.4, -0.14),
        (-1.17, -0.58),
        (-1.1, -0.93),
        (-1.24, -1.68),
        (-1.0, -2.96),
        (-0.04, -2.63),
    ],
]


@pytest.mark.parametrize("waist", range(len(WAISTS)))
def test_a_neck_and_the_tip_that_it_faces_keep_apart(waist):
    layout = laid("cylinder")
    art_ = drawing(np.array([*WAISTS[waist], WAISTS[waist][0]]))
    assert nearest(inner_rings(art_, layout), layout, beyond_mm=3 * PITCH).min() >= 0.45 * PITCH
    assert widest(Rings(pitch_mm=PITCH).mark(art_, layout).strokes, layout, regions(art_)) <= 0.5 * PITCH


@pytest.mark.parametrize("wide", [1.5, 1.64, 1.8])
def test_in_the_corner_of_a_bent_band_the_crest_goes_to_the_tip(wide):
    """The crest line's branch into the corner is as long as to the tip, not to the last triangle before it."""
    bent = shapely.LineString([(-4, 3), (-4, -3), (4, -3)]).buffer(
        0.5 * wide * PITCH, cap_style="flat", join_style="mitre"
    )
    art_ = drawing(shapely.get_coordinates(shapely.orient_polygons(bent).exterior))
    layout = laid("cylinder")
    assert widest(Rings(pitch_mm=PITCH).mark(art_, layout).strokes, layout, regions(art_), step=0.01) <= 0.5 * PITCH


@pytest.mark.parametrize("corners", [7, 8, 9, 10])
def test_in_blunt_corners_the_little_that_two_rings_leave_is_gone_to(corners):
    """Between two rings' corners is a place 0.98 / (1 + sin of half the angle) of a pitch from both."""
    art_ = drawing(ring(corners, 4.0))
    layout = laid("cylinder")
    assert widest(Rings(pitch_mm=PITCH).mark(art_, layout).strokes, layout, regions(art_), step=0.01) <= 0.5 * PITCH


def test_at_nine_tenths_of_the_width_less_than_a_hundredth_is_left_uncut():
    """Discs swept along the strokes, by a general library, over the art that the tool can reach at all."""
    width = PITCH / 0.9
    for art_ in (EYE, drawing(box(6, 4)), drawing(ring(200, 6.0), ring(100, 2.0, (1, 1), -1))):
        strokes = Rings(pitch_mm=PITCH, inset_mm=0.5 * width).mark(art_, laid("cylinder")).strokes
        runs = shapely.multilinestrings(shapely.linestrings(strokes.line.points, indices=strokes.line.owner))
        cut = shapely.buffer(runs, 0.5 * width)
        area = regions(art_)
        reach = shapely.buffer(shapely.buffer(area, -0.5 * width), 0.5 * width)
        assert shapely.difference(reach, cut).area < 0.01 * area.area
        assert shapely.difference(cut, shapely.buffer(area, 0.004)).area < 1e-6


def test_rings_that_lie_in_each_other_are_one_stroke():
    layout = laid("ovoid")
    disc = drawing(ring(200, 6.0))
    alone, joined = (Rings(pitch_mm=PITCH, joined=j).mark(disc, layout).strokes for j in (False, True))
    assert len(alone) == 13
    assert len(joined) == 1
    assert joined.share.min() == 1 and joined.reversible.all()
    length = [shapely.length(shapely.linestrings(s.line.points, indices=s.line.owner)).sum() for s in (alone, joined)]
    assert 12 * 0.9 * PITCH < length[1] - length[0] < 12 * 1.3 * PITCH  # twelve steps, a bit over a pitch on the sheet


def test_an_island_is_kept():
    """Nothing is cut in the hole, nor nearer to it than the inset."""
    layout = laid("cylinder")
    lake = drawing(ring(200, 6.0), ring(100, 2.0, (1, 1), -1))
    strokes = Rings(pitch_mm=PITCH, inset_mm=0.3).mark(lake, layout).strokes
    runs = shapely.linestrings(strokes.line.points, indices=strokes.line.owner)
    assert shapely.distance(runs, shapely.Point(1, 1)).min() > 2.295
    assert shapely.covers(shapely.buffer(regions(lake), -0.295), runs).all()


def test_lines_are_drawn_and_what_is_too_narrow_is_told():
    layout = laid("cylinder")
    only = Drawing(width_mm=20, height_mm=20, lines=art().lines)
    assert np.array_equal(Rings(pitch_mm=PITCH).mark(only, layout).strokes.line.points, only.lines.points)
    dots = drawing(ring(60, 5.0), ring(30, 0.15, (0.0, 9.0)))
    assert [f.code for f in Rings(pitch_mm=PITCH, inset_mm=0.2).mark(dots, layout).findings] == ["too-narrow"]
    gone = Rings(pitch_mm=PITCH, inset_mm=7.0).mark(dots, layout)
    assert [f.code for f in gone.findings] == ["no-strokes"]


def test_what_is_no_pitch_or_no_inset_is_refused():
    for words, where in (
        ({"pitch_mm": 0.0}, "marking/pitch_mm"),
        ({"pitch_mm": np.nan}, "marking/pitch_mm"),
        ({"pitch_mm": 1, "inset_mm": -1}, "marking/inset_mm"),
    ):
        with pytest.raises(MarkingError) as caught:
            Rings(**words)
        assert caught.value.where == where
