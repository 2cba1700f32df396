"""Marking styles on every kind of blank: true to the art, true-spaced on the skin, deterministic."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from engine.artwork import Drawing
from engine.kernel.findings import Severity
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, lay_out
from engine.marking import STYLES, Hatch, Outline
from tests.blank.skins import SKINS


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
    return shapely.build_area(
        shapely.geometrycollections(shapely.linearrings(drawing.rings.points, indices=drawing.rings.owner))
    )


def middle(skin, projection=Projection.EQUIDISTANT):
    low, high = skin.x_range_mm
    return lay_out(skin, Placement(x_mm=low + 0.5 * (high - low), angle_deg=175, projection=projection))


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


@pytest.mark.parametrize("angle", [0, 45, 90])
@pytest.mark.parametrize("name", sorted(SKINS))
def test_neighbours_on_the_skin_are_never_over_the_pitch(name, angle):
    """A referee in space: walk across the lines from each one's middle to its neighbour, on the skin."""
    skin, pitch = SKINS[name], 0.5
    layout = middle(skin, Projection.CONFORMAL)
    drawing = Drawing(width_mm=24, height_mm=24, rings=Ragged.of([ring(4, 12.0)]))
    ends = hatched(Hatch(pitch_mm=pitch, angle_deg=angle).mark(drawing, layout).strokes)
    across = np.array([-np.sin(np.radians(angle)), np.cos(np.radians(angle))])
    along = np.array([across[1], -across[0]])
    at = ends @ across
    low, high = np.sort(ends @ along, axis=1).T
    inside = regions(drawing).buffer(-0.05)
    for where in np.linspace(-9, 9, 13):
        here = np.unique(np.round(at[(low <= where) & (high >= where), 0], 9))
        for a, b in pairwise(here):
            walk = where * along + np.linspace(a, b, 9)[:, None] * across
            if not shapely.contains_xy(inside, *walk.T).all():
                continue
            x, t = layout.wrap(walk)
            r = skin.radius(x, t)
            p = np.stack([x, r * np.cos(t), r * np.sin(t)], 1)
            # square to the lines: the sheet's across is square on the skin too, since the map is conformal on the mean
            far = np.linalg.norm(np.diff(p, axis=0), axis=1).sum()
            assert far <= pitch * (1.0005 if skin.is_round else 1.05), (where, a, b)
            assert far >= 0.44 * pitch


def test_lines_are_dropped_where_the_skin_narrows():
    skin = SKINS["ovoid"]
    layout = lay_out(skin, Placement(x_mm=28, projection=Projection.EQUIDISTANT))
    sheet = np.array([[-8.0, -31], [8, -31], [8, 31], [-8, 31], [-8, -31]])
    drawing = Drawing(width_mm=16, height_mm=62, rings=Ragged.of([sheet]))
    ends = hatched(Hatch(pitch_mm=0.5, angle_deg=90).mark(drawing, layout).strokes)
    low, high = np.sort(ends[..., 1], axis=1).T
    count = [int(((low <= v) & (high >= v)).sum()) for v in (0, 30)]
    assert count[1] < 0.7 * count[0]


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
    assert {"hatch": Hatch, "outline": Outline} == STYLES
