"""Marking styles on every kind of blank: true to the art, true-spaced on the skin, deterministic."""

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from engine.artwork import Drawing
from engine.blank import Cylinder
from engine.kernel.errors import MarkingError
from engine.kernel.findings import Severity
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from engine.marking import STYLES, Hatch, Outline, Rings
from tests.blank.skins import SKINS
from tests.marking.contract import BUMPY, art, in_space, middle, regions, ring


def hatched(strokes):
    """Only the two-point strokes that are hatch, not drawn lines."""
    return strokes.line.points.reshape(-1, 2, 2) if (strokes.line.sizes == 2).all() else None


@pytest.mark.parametrize("angle", [0, 30, 90, 137.5])
def test_hatch_covers_what_shapely_would_clip(angle):
    """On a cylinder the gap is the pitch, so every line can be clipped by a general-purpose library."""
    drawing = Drawing(width_mm=20, height_mm=28, rings=art().rings)
    layout = middle(SKINS["cylinder"])
    strokes = Hatch(pitch_mm=0.3, angle_deg=angle).mark(drawing, layout).strokes
    ends = hatched(strokes)
    across = np.array([-np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    along = np.array([across[1], -across[0]])
    offsets = np.unique(np.round(ends.mean(axis=1) @ across, 9))
    gap = np.diff(offsets).min()
    assert 0.299 < gap <= 0.3
    steps = np.diff(offsets) / gap  # a whole number of gaps, more than one only between two pieces of the art
    assert np.allclose(steps, np.rint(steps), atol=1e-6)
    lines = [shapely.LineString([o * across - 40 * along, o * across + 40 * along]) for o in offsets]
    wanted = shapely.intersection(np.array(lines), regions(drawing))
    assert np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum() == pytest.approx(
        shapely.length(wanted).sum(), rel=1e-9
    )
    assert shapely.intersects_xy(regions(drawing).buffer(1e-9), *ends.mean(axis=1).T).all()


def distances(layout, ends, angle, drawing, pitch, fine=0.03):
    """A referee in space: from places on every line, well inside the art, to the nearest place on any line above it."""
    across = np.array([-np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    _, line = np.unique(np.round(ends.mean(axis=1) @ across, 9), return_inverse=True)
    dots = [a + np.arange(0, 1, fine / max(fine, np.linalg.norm(b - a)))[:, None] * (b - a) for a, b in ends]
    owner = np.repeat(line, [len(d) for d in dots])
    flat = np.concatenate(dots)
    places = in_space(layout, flat)
    inside = regions(drawing).buffer(-2.1 * pitch)
    shapely.prepare(inside)
    found = []
    for k in range(0, line.max(), max(1, line.max() // 9)):
        asked = np.flatnonzero(owner == k)[::20]
        asked = asked[shapely.contains_xy(inside, *flat[asked].T)]
        if len(asked):
            above = (owner > k) & (owner <= k + 16)
            found.append(cKDTree(places[above]).query(places[asked])[0])
    return np.concatenate(found) / pitch


LAID = [Projection.EQUIDISTANT, Projection.CONFORMAL, Projection.TRUE_WIDTH, Projection.FROM_VIEW]


@pytest.mark.parametrize("projection", LAID, ids=lambda p: p.value)
@pytest.mark.parametrize("angle", [0, 45, 90])
@pytest.mark.parametrize("name", [*sorted(SKINS), "bumpy"])
def test_neighbours_on_the_skin_are_never_over_the_pitch(name, angle, projection):
    pitch = 0.5
    layout = middle(BUMPY if name == "bumpy" else SKINS[name], projection)
    drawing = Drawing(width_mm=24, height_mm=24, rings=Ragged.of([ring(4, 12.0)]))
    ends = hatched(Hatch(pitch_mm=pitch, angle_deg=angle).mark(drawing, layout).strokes)
    share = distances(layout, ends, angle, drawing, pitch)
    assert share.max() <= 1.0005  # half of it from the dots' own distance
    assert share.min() >= 0.45


@pytest.mark.parametrize("projection", [Projection.EQUIDISTANT, Projection.CONFORMAL], ids=lambda p: p.value)
@pytest.mark.parametrize("angle", [0, 60, 90])
def test_where_lines_are_dropped_the_pitch_still_holds(angle, projection):
    """Up to where the egg's radius is a third of its greatest: up to half the lines end on the way."""
    high = 28.0 if projection is Projection.EQUIDISTANT else 38.0
    layout = lay_out(SKINS["ovoid"], Placement(x_mm=28, projection=projection))
    box = np.array([[-6.0, 0], [6, 0], [6, high], [-6, high], [-6, 0]])
    drawing = Drawing(width_mm=12, height_mm=2 * high, rings=Ragged.of([box]))
    ends = hatched(Hatch(pitch_mm=0.5, angle_deg=angle).mark(drawing, layout).strokes)
    share = distances(layout, ends, angle, drawing, 0.5)
    assert share.max() <= 1.0005
    assert share.min() >= 0.44


def test_lines_are_dropped_where_the_skin_narrows():
    skin = SKINS["ovoid"]
    layout = lay_out(skin, Placement(x_mm=28, projection=Projection.EQUIDISTANT))
    sheet = np.array([[-8.0, -31], [8, -31], [8, 31], [-8, 31], [-8, -31]])
    drawing = Drawing(width_mm=16, height_mm=62, rings=Ragged.of([sheet]))
    ends = hatched(Hatch(pitch_mm=0.5, angle_deg=90).mark(drawing, layout).strokes)
    low, high = np.sort(ends[..., 1], axis=1).T
    count = [int(((low <= v) & (high >= v)).sum()) for v in (0, 30)]
    assert count[1] < 0.7 * count[0]


def test_lines_along_an_egg_keep_half_to_one_pitch_at_every_station():
    """Closed form: two lines along v, du apart on the sheet, are du r(v) / r0 apart along the egg's parallel."""
    skin, pitch = SKINS["ovoid"], 0.5
    layout = lay_out(skin, Placement(x_mm=28, projection=Projection.EQUIDISTANT))
    box = np.array([[-6.0, -31.5], [6, -31.5], [6, 28], [-6, 28], [-6, -31.5]])
    drawing = Drawing(width_mm=12, height_mm=63, rings=Ragged.of([box]))
    ends = hatched(Hatch(pitch_mm=pitch, angle_deg=90).mark(drawing, layout).strokes)
    low, high = np.sort(ends[..., 1], axis=1).T
    at = np.arange(-31.49, 28, 0.01)
    x, _ = layout.wrap(np.stack([np.zeros(len(at)), at], 1))
    share = skin.radius(x, np.zeros(1)) / skin.radius(np.array([28.0]), np.zeros(1)) / pitch
    for v, per_mm in zip(at, share, strict=True):
        gaps = np.diff(np.unique(np.round(ends[(low <= v) & (high >= v), 0, 0], 9))) * per_mm
        assert gaps.max() <= 1 + 1e-9
        assert gaps.max() >= 0.5 * (1 - 2e-2)  # a line begins a look early


def test_inset_keeps_the_lines_inside():
    drawing = Drawing(width_mm=20, height_mm=28, rings=art().rings)
    ends = hatched(Hatch(pitch_mm=0.3, angle_deg=20, inset_mm=0.4).mark(drawing, middle(SKINS["cylinder"])).strokes)
    held = regions(drawing).buffer(-0.39)
    assert shapely.covers(held, shapely.linestrings(ends)).all()
    assert len(ends) > 20


@pytest.mark.parametrize("name", sorted(SKINS))
@pytest.mark.parametrize("style", [Outline(), Hatch(pitch_mm=0.4, angle_deg=33, outline=True)])
def test_same_art_same_strokes_and_all_within_the_art(style, name):
    layout = middle(SKINS[name])
    a, b = (style.mark(art(0.7), layout).strokes for _ in range(2))
    assert np.array_equal(a.line.points, b.line.points)
    near = regions(art(0.7)).union(shapely.LineString(art(0.7).lines.points)).buffer(1e-6)
    assert shapely.covers(near, shapely.points(a.line.points)).all()
    assert a.reversible.all()
    assert (a.share == 1).all()
    assert (a.line.sizes >= 2).all()


def test_outline_is_the_rings_and_lines_themselves():
    strokes = Outline().mark(art(), middle(SKINS["cylinder"])).strokes
    assert len(strokes) == 4
    assert np.array_equal(strokes.line[0], art().rings[0])
    assert np.array_equal(strokes.line[0][0], strokes.line[0][-1])


@pytest.mark.parametrize("style", [Outline(), Hatch(pitch_mm=0.4, outline=True)])
def test_empty_art_gives_an_empty_result_and_says_so(style):
    marked = style.mark(Drawing(width_mm=5, height_mm=5), middle(SKINS["cylinder"]))
    assert len(marked.strokes) == 0
    assert [(f.code, f.severity) for f in marked.findings] == [("no-strokes", Severity.ERROR)]


def test_the_table_of_styles_holds_every_style():
    assert {"hatch": Hatch, "outline": Outline, "rings": Rings}.items() <= STYLES.items()


def test_a_sleeve_longer_than_the_blank_is_round_lies_on_itself():
    """Diameter 40: a turn is 125.66 mm. Only what meets at the same station counts: a rising thread does not."""
    layout = lay_out(Cylinder(diameter_mm=40, length_mm=90), Placement(x_mm=45))
    for width, codes in ((125.0, []), (130.0, ["overlaps-itself"])):
        half = 0.5 * width
        box = np.array([[-half, -5.0], [half, -5], [half, 5], [-half, 5], [-half, -5]])
        drawing = Drawing(width_mm=width, height_mm=10, rings=Ragged.of([box]))
        for style in (Hatch(pitch_mm=1.0), Hatch(pitch_mm=1.0, angle_deg=90), Outline()):
            told = style.mark(drawing, layout).findings
            assert [f.code for f in told] == codes
            assert all(f.severity is Severity.WARNING and 40 <= f.where.x_mm <= 50 for f in told)
    thread = Drawing(width_mm=200, height_mm=40, lines=Ragged.of([np.array([[-100.0, -20], [100, 20]])]))
    assert Outline().mark(thread, layout).findings == ()


def test_what_is_no_pitch_is_refused():
    for words in ({"pitch_mm": 0.0}, {"pitch_mm": np.nan}, {"pitch_mm": 1, "inset_mm": -1}):
        with pytest.raises(MarkingError):
            Hatch(**words)
    with pytest.raises(MarkingError, match="wider pitch"):
        Hatch(pitch_mm=1e-6).mark(art(), middle(SKINS["cylinder"]))


def test_an_inset_wider_than_the_art_leaves_nothing_and_says_so():
    drawing = Drawing(width_mm=20, height_mm=28, rings=art().rings)
    marked = Hatch(pitch_mm=0.3, inset_mm=7).mark(drawing, middle(SKINS["cylinder"]))
    assert [f.code for f in marked.findings] == ["no-strokes"]
