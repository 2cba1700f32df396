"""DXF files: lengths and areas in closed form, splines against scipy, whole files against the reader of `ezdxf`."""

import io
import math

import numpy as np
import pytest
import shapely
from ezdxf import path, units
from ezdxf.disassemble import recursive_decompose
from numpy.typing import NDArray
from scipy.interpolate import BSpline, CubicSpline
from scipy.special import ellipe, ellipeinc

from engine.artwork import Drawing, DrawingChoice, describe, read_artwork
from engine.artwork.dxf import STATED_MM
from engine.files import describe as looked_at
from engine.kernel.errors import ArtworkError, QuestionError
from engine.kernel.ragged import Ragged
from tests.artwork.dxf_files import (
    Tags,
    binary,
    block,
    circle,
    dxf,
    entity,
    insert,
    layer,
    line,
    made_by_ezdxf,
    polyline,
    tags,
    text,
)
from tests.artwork.pictures import check_rings, region

CHORD = 0.005
ROUND = 2e-4  # of a length: what chords of 0.005 mm take from curves of some mm radius


def lengths(runs: Ragged) -> list[float]:
    return [float(np.hypot(*np.diff(runs[i], axis=0).T).sum()) for i in range(len(runs))]


def shape(runs: Ragged) -> shapely.Geometry:
    return shapely.MultiLineString([runs[i] for i in range(len(runs))])


def apart(one: shapely.Geometry, two: shapely.Geometry) -> float:
    """Hausdorff distance, both ways, densified."""
    return max(_off(one, two), _off(two, one))


def _off(one: shapely.Geometry, two: shapely.Geometry) -> float:
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(one, 0.1)))
    ends, owner = shapely.get_coordinates(shapely.get_parts(two), return_index=True)
    same = owner[1:] == owner[:-1]
    segments = shapely.linestrings(np.stack([ends[:-1][same], ends[1:][same]], axis=1))
    _, away = shapely.STRtree(segments).query_nearest(points, return_distance=True, all_matches=False)
    return float(away.max())


def centred(points: NDArray[np.float64]) -> NDArray[np.float64]:
    out: NDArray[np.float64] = points - (points.min(0) + points.max(0)) / 2
    return out


@pytest.mark.parametrize(
    ("tags_of", "length"),
    [
        (line(1, 2, 4, 6), 5.0),
        (circle(3, 4, 10), 20 * math.pi),
        (entity("ARC", (10, 0), (20, 0), (40, 8), (50, 350), (51, 80)), 8 * math.radians(90)),
        (polyline([(0, 0, 1), (10, 0, 0)]), 5 * math.pi),
        (polyline([(0, 0, -math.tan(math.pi / 12)), (6, 0, 0)]), 6 * math.radians(60)),  # the chord is the radius
        (polyline([(0, 0, 0.5), (10, 0, 0), (10, 10, 0)], closed=True), 10 / math.sin(2 * math.atan(0.5)) * 2
         * math.atan(0.5) + 10 + math.hypot(10, 10)),
        (entity("ELLIPSE", (10, 5), (20, 5), (11, 6), (21, 8), (40, 0.3)), 40 * ellipe(1 - 0.3**2)),
        (
            entity("ELLIPSE", (10, 0), (20, 0), (11, 10), (21, 0), (40, 0.5), (41, 0), (42, math.pi / 3)),
            # from the major axis on: from t = 0 the arc of the ellipse is that of its complement from pi / 2 back
            10 * (ellipeinc(math.pi / 2, 0.75) - ellipeinc(math.pi / 2 - math.pi / 3, 0.75)),
        ),
    ],
)  # fmt: skip
def test_lengths_in_closed_form(tags_of: Tags, length: float) -> None:
    (found,) = lengths(read_artwork(dxf(tags_of)).lines)
    assert found == pytest.approx(length, rel=ROUND)
    assert found <= length * (1 + 1e-9)  # chords are never longer than their curve


def test_a_bulge_above_zero_turns_left() -> None:
    drawing = read_artwork(dxf(polyline([(0, 0, 1), (10, 0, 0)])))
    assert drawing.width_mm == pytest.approx(10)
    ends, lowest = drawing.lines[0][[0, -1]], drawing.lines[0][:, 1].min()
    assert (ends[:, 1] > lowest + 4.9).all()  # counter-clockwise from left to right runs below the chord


@pytest.mark.parametrize("degree", [1, 2, 3, 5])
@pytest.mark.parametrize("weighted", [False, True])
def test_splines_are_those_of_scipy(degree: int, weighted: bool) -> None:
    rng = np.random.default_rng(degree)
    control = rng.uniform(0, 30, (9, 2))
    weights = rng.uniform(0.4, 3, 9) if weighted else np.ones(9)
    inner = np.sort(rng.uniform(0, 1, 9 - degree - 1))
    inner[: degree // 2] = inner[:1]  # a knot that is there more than once
    knots = np.concatenate([np.zeros(degree + 1), np.sort(inner), np.ones(degree + 1)])
    held = BSpline(knots, np.column_stack([control * weights[:, None], weights]), degree)(
        np.unique(np.append(np.linspace(0, 1, 20_001), knots))
    )
    numbers = [(40, k) for k in knots] + ([(41, w) for w in weights] if weighted else [])
    points = [(code, v) for p in control for code, v in zip((10, 20), p, strict=True)]
    drawing = read_artwork(dxf(entity("SPLINE", (70, 0), (71, degree), *numbers, *points)))
    assert apart(shape(drawing.lines), shapely.LineString(centred(held[:, :2] / held[:, 2:]))) <= CHORD + 1e-3


def test_a_spline_through_points_is_the_natural_one() -> None:
    points = np.array([[0, 0], [4, 7], [10, 3], [15, 9], [21, 0]], float)
    numbers = [(code, v) for p in points for code, v in zip((11, 21), p, strict=True)]
    t = np.append(0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    true = CubicSpline(t, points, bc_type="natural")(np.linspace(0, t[-1], 5001))
    drawing = read_artwork(dxf(entity("SPLINE", (71, 3), *numbers)))
    assert apart(shape(drawing.lines), shapely.LineString(centred(true))) <= CHORD + 1e-3


def test_curves_keep_the_chord_at_the_size_of_the_drawing() -> None:
    for scale in (1.0, 40.0):
        drawing = read_artwork(dxf(insert("B", 0, 0, (41, scale), (42, scale)), blocks=[block("B", circle(0, 0, 5))]))
        away = np.hypot(*drawing.lines.points.T)
        middle = np.hypot(*((drawing.lines.points[1:] + drawing.lines.points[:-1]) / 2).T)
        np.testing.assert_allclose(away, 5 * scale, rtol=1e-5)
        assert (middle >= 5 * scale * (1 - 1e-5) - CHORD).all()


def test_a_whole_file_is_read_as_ezdxf_reads_it() -> None:
    doc = made_by_ezdxf()
    doc.modelspace().delete_entity(doc.modelspace()[-1])  # fit points: theirs is another spline by design
    held, packed = io.StringIO(), io.BytesIO()
    doc.write(held)
    doc.write(packed, fmt="bin")
    theirs = [
        np.array([(p.x, p.y) for p in path.make_path(each).flattening(1e-4, segments=32)])
        for each in recursive_decompose(doc.modelspace())
        if each.dxftype() != "POINT"
    ]
    middle = (np.concatenate(theirs).min(0) + np.concatenate(theirs).max(0)) / 2
    truth = shapely.MultiLineString([run - middle for run in theirs])
    for data in (held.getvalue().encode(), packed.getvalue()):
        drawing = read_artwork(data)
        assert len(drawing.lines) > 20
        assert apart(shape(drawing.lines), truth) <= 2 * CHORD
        assert sum(lengths(drawing.lines)) == pytest.approx(truth.length, rel=1e-3)
        assert describe(data).width == pytest.approx(drawing.width_mm, rel=1e-3)


def test_a_block_in_a_block_is_sheared_where_both_are_uneven() -> None:
    """Points and an ellipse through both maps by hand: a sheared circle is no circle."""
    inner = insert("B", 10, 0, (41, 2), (42, 0.7), (50, 30))
    outer = insert("T", 3, 4, (41, 1), (42, 1.5), (50, 70))
    held = [block("B", circle(4, 1, 2), base=(1, 1)), block("T", inner)]
    drawing = read_artwork(dxf(outer, line(0, 0, -30, 0), blocks=held))

    def turned(degrees: float) -> NDArray[np.float64]:
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        return np.array([[c, -s], [s, c]])

    t = np.linspace(0, 2 * np.pi, 4001)
    on_circle = np.array([3 + 2 * np.cos(t), 2 * np.sin(t)])
    in_twig = turned(30) @ (np.array([[2], [0.7]]) * on_circle) + np.array([[10], [0]])
    true = (turned(70) @ (np.array([[1], [1.5]]) * in_twig) + np.array([[3], [4]])).T
    whole = np.concatenate([true, [[0, 0], [-30, 0]]])
    middle = (whole.min(0) + whole.max(0)) / 2
    truth = shapely.MultiLineString([true - middle, np.array([[0, 0], [-30, 0]]) - middle])
    assert apart(shape(drawing.lines), truth) <= CHORD + 1e-3


def test_both_binary_forms_and_every_line_end_say_the_same() -> None:
    what = tags(
        circle(0, 0, 10, (1000, "of the oldest form, a code of three bytes")),
        polyline([(0, 0, 1), (10, 0, 0), (10, 10, 0)], closed=True),
        line(0, 0, 5, 5),
    )
    first = read_artwork(text(what))
    for data in (
        text(what, "\n"),
        binary(what),
        binary(what, wide=False),
        b"\xef\xbb\xbf999\nwritten by hand\n" + text(what),
    ):
        assert (read_artwork(data).lines.points == first.lines.points).all()
        assert describe(data).media_type == looked_at(data).media_type == "image/vnd.dxf"


def test_a_hatch_is_filled_even_odd_and_its_edges_run_either_way() -> None:
    def loop(flags: int, *numbers: tuple[int, object]) -> Tags:
        return [(92, flags), *numbers, (97, 0)]

    square = loop(
        2, (72, 0), (73, 1), (93, 4), (10, 0), (20, 0), (10, 20), (20, 0), (10, 20), (20, 20), (10, 0), (20, 20)
    )
    # a half disc of radius 5 about (10, 10): the chord, and an arc stored clockwise, by its mirror image
    half = loop(1, (93, 2), (72, 1), (10, 5), (20, 10), (11, 15), (21, 10),
                (72, 2), (10, 10), (20, 10), (40, 5), (50, 180), (51, 360), (73, 0))  # fmt: skip
    rim = loop(1, (93, 1), (72, 3), (10, 10), (20, 4), (11, 4), (21, 0), (40, 0.5), (50, 0), (51, 360), (73, 1))
    body = [(10, 0), (20, 0), (30, 0), (2, "SOLID"), (70, 1), (91, 3), *square, *half, *rim, (75, 0), (76, 1), (98, 0)]
    drawing = read_artwork(dxf(entity("HATCH", *body)))
    check_rings(drawing)
    assert region(drawing.rings).area == pytest.approx(400 - 12.5 * math.pi - 8 * math.pi, rel=1e-3)
    up = region(drawing.rings).intersection(shapely.box(-5, 0, 5, 5)).area  # the half disc is above its chord
    assert up == pytest.approx(50 - 12.5 * math.pi, rel=1e-2)


def test_solids_are_filled_with_their_corners_crosswise() -> None:
    made = entity("SOLID", (10, 0), (20, 0), (11, 4), (21, 0), (12, 0), (22, 3), (13, 4), (23, 3))
    three = entity("TRACE", (10, 10), (20, 0), (11, 14), (21, 0), (12, 14), (22, 4))
    drawing = read_artwork(dxf(made, three))
    assert region(drawing.rings).area == pytest.approx(12 + 8)
    assert not len(drawing.lines)


def test_lines_that_meet_end_to_end_become_one() -> None:
    off = 0.002
    square = [line(0, 0, 10, 0), line(10 + off, 10, 10, off), line(10, 10, 0, 10), line(0, 0, 0, 10 - off)]
    drawing = read_artwork(dxf(*square))
    assert len(drawing.lines) == 1
    assert (drawing.lines[0][0] == drawing.lines[0][-1]).all()
    assert len(drawing.lines[0]) == 5
    slot = [line(0, 0, 10, 0), entity("ARC", (10, 10), (20, 2), (40, 2), (50, 270), (51, 90)), line(0, 4, 10, 4)]
    drawing = read_artwork(dxf(*slot))
    assert lengths(drawing.lines) == pytest.approx([20 + 2 * math.pi], rel=1e-3)
    assert not (drawing.lines[0][0] == drawing.lines[0][-1]).all()


def test_where_three_ends_meet_and_where_ends_are_apart_lines_end() -> None:
    star = [line(0, 0, 10, 0), line(0, 0, -5, 8), line(0, 0, -5, -8), line(10.1, 0, 20, 0)]
    assert sorted(lengths(read_artwork(dxf(*star)).lines)) == pytest.approx(
        sorted([10, math.hypot(5, 8), math.hypot(5, 8), 9.9])
    )


def test_a_line_drawn_twice_is_drawn_once_and_told() -> None:
    drawing = read_artwork(
        dxf(line(0, 0, 10, 0), line(10, 0, 0, 0), line(0, 0, 10, 0), circle(5, 5, 2), circle(5, 5, 2))
    )
    assert len(drawing.lines) == 2
    assert "3 lines" in next(note.message for note in drawing.notes if note.code == "double")


def test_closed_lines_are_lines_unless_they_are_to_be_filled() -> None:
    data = dxf(circle(0, 0, 10), circle(0, 0, 5), line(-12, 0, 12, 0))
    plain = read_artwork(data)
    assert (len(plain.lines), len(plain.rings)) == (3, 0)
    filled = read_artwork(data, drawing=DrawingChoice(fill_closed=True))
    check_rings(filled)
    assert (len(filled.lines), len(filled.rings)) == (1, 2)
    assert region(filled.rings).area == pytest.approx(75 * math.pi, rel=1e-3)


@pytest.mark.parametrize("code", [*range(1, 8), *range(10, 17)])
def test_units_are_those_of_the_format(code: int) -> None:
    metre = units.METER_FACTOR[code]
    assert metre is not None
    assert STATED_MM[code] == pytest.approx(1000.0 / metre, rel=1e-6)


def test_units_that_ezdxf_does_not_know() -> None:
    """The inch of 25.4 mm by its parts; the foot of the U.S. survey, 1200/3937 m (NIST SP 811, B.6), and its kin."""
    assert [STATED_MM[8], STATED_MM[9]] == pytest.approx([25.4e-6, 25.4e-3], rel=1e-12)
    survey = [STATED_MM[code] for code in (21, 22, 23, 24)]
    assert survey == pytest.approx([304.8006096, 25.4000508, 914.4018288, 1_609_347.219], rel=1e-9)


def test_units_are_used_asked_for_and_overruled() -> None:
    for unit, size in ((1, 254.0), (4, 10.0), (5, 100.0), (21, 10 * 1200_000 / 3937)):
        assert read_artwork(dxf(circle(0, 0, 5), unit=unit)).width_mm == pytest.approx(size, rel=1e-6)
    for unit in (None, 0, 18):
        data = dxf(circle(0, 0, 5), unit=unit)
        with pytest.raises(QuestionError) as caught:
            read_artwork(data)
        assert caught.value.where == "drawing/unit"
        for size_mm in ((30.0, None), (None, 30.0)):
            sized = read_artwork(data, size_mm=size_mm)
            assert not sized.has_size and not sized.notes and sized.width_mm == pytest.approx(sized.height_mm, rel=1e-6)
        assert not describe(data).has_size
        assert describe(data).width == pytest.approx(10, rel=1e-3)
        assert read_artwork(data, drawing=DrawingChoice(unit="inch")).width_mm == pytest.approx(254, rel=1e-6)
    other = read_artwork(dxf(circle(0, 0, 5)), drawing=DrawingChoice(unit="inch"))
    assert other.width_mm == pytest.approx(254, rel=1e-6)
    assert "unit" in [note.code for note in other.notes]


def test_a_drawing_larger_than_a_sheet_gives_its_proportion() -> None:
    garden = read_artwork(dxf(polyline([(0, 0, 0), (400, 0, 0), (400, 100, 0)], closed=True), unit=6))
    assert not garden.has_size
    assert garden.width_mm / garden.height_mm == pytest.approx(4)
    assert not describe(dxf(line(0, 0, 400, 100), unit=6)).has_size


def test_layers_off_frozen_and_chosen() -> None:
    what = [
        line(0, 0, 1, 0, "beds"),
        line(0, 1, 2, 1, "Paths"),
        line(0, 2, 3, 2, "notes"),
        line(0, 3, 4, 3, "Defpoints"),
    ]
    layers = [layer("Beds"), layer("Paths", flags=1), layer("Notes", colour=-7)]
    held = dxf(*what, layers=layers)
    assert describe(held).layers == ("Beds", "Defpoints", "Notes", "Paths")
    plain = read_artwork(held)
    assert lengths(plain.lines) == pytest.approx([1])
    told = [note.message for note in plain.notes if note.code == "layer"]
    assert len(told) == 3
    assert any("Paths is frozen" in message for message in told)
    chosen = read_artwork(held, drawing=DrawingChoice(layers=("PATHS", "notes")))
    assert lengths(chosen.lines) == pytest.approx([2, 3])
    with pytest.raises(ArtworkError, match="no layer 'Hedges'") as caught:
        read_artwork(held, drawing=DrawingChoice(layers=("Hedges",)))
    assert caught.value.where == "drawing/layers"


def test_what_stands_on_layer_0_of_a_block_takes_the_layer_of_the_block() -> None:
    held = [block("B", line(0, 0, 1, 0), line(0, 1, 2, 1, "own"))]
    data = dxf(insert("B", 0, 0, layer="on"), insert("b", 0, 9, layer="off"), blocks=held, layers=[layer("off", 0, -1)])
    assert sorted(lengths(read_artwork(data).lines)) == pytest.approx([1, 2, 2])
    frozen = dxf(insert("B", 0, 0, layer="on"), insert("b", 0, 9, layer="ice"), blocks=held, layers=[layer("ice", 1)])
    assert sorted(lengths(read_artwork(frozen).lines)) == pytest.approx([1, 2])


def test_what_is_not_drawn_is_told_with_its_count() -> None:
    text_of = entity("TEXT", (10, 0), (20, 0), (40, 2), (1, "marrow \u0e01"))
    odd = [entity("WIPEOUT"), entity("WIPEOUT"), entity("POINT", (10, 1), (20, 1)), text_of]
    hidden, on_paper = [*line(0, 0, 50, 50), (60, 1)], [*line(0, 0, 50, 50), (67, 1)]
    drawing = read_artwork(dxf(line(0, 0, 1, 1), *odd, hidden, on_paper, insert("lost", 0, 0)))
    told = {note.code: note for note in drawing.notes}
    assert set(told) == {"entity", "point", "text", "hidden", "paper", "block"}
    assert told["entity"].times == 2
    assert "WIPEOUT" in told["entity"].message
    assert told["entity"].where.startswith("line ")
    assert drawing.width_mm == pytest.approx(1)


def test_a_block_that_is_missing_is_named_as_the_file_writes_it() -> None:
    drawing = read_artwork(dxf(line(0, 0, 4, 0), insert("Plot Sign", 1, 1)))
    assert [note.message for note in drawing.notes if note.code == "block"] == [
        "block Plot Sign is missing from the file"
    ]


def test_the_extent_is_that_of_what_is_drawn_and_its_middle_is_the_sheets() -> None:
    far = 4_000_000.0
    drawing: Drawing = read_artwork(dxf(circle(far, far, 5), line(far, far, far + 15, far)))
    assert (drawing.width_mm, drawing.height_mm) == pytest.approx((20, 10), rel=1e-4)
    np.testing.assert_allclose(drawing.lines.points.min(0), [-10, -5], atol=1e-3)
    level = read_artwork(dxf(line(0, 0, 30, 0)))
    assert level.width_mm == pytest.approx(30)
    assert 0 < level.height_mm < 0.01


def test_what_has_no_length_is_left_out_and_told() -> None:
    """A line from a point to itself, a polyline of one point, a hatch without a loop, one whose loop is cut short."""
    short = ((2, "SOLID"), (70, 1), (91, 1), (92, 2), (72, 0), (73, 1), (93, 4), (10, 1.0), (20, 1.0))
    held = dxf(
        line(0, 0, 9, 9),
        line(3, 4, 3, 4),
        line(5, 5, 5, 5),
        polyline([(1, 1, 0)]),
        entity("HATCH", (2, "SOLID"), (70, 1), (91, 0)),
        entity("HATCH", *short),
    )
    drawing = read_artwork(held)
    assert len(drawing.lines) == 1 and not len(drawing.rings)
    assert {(note.code, note.message, note.times) for note in drawing.notes} == {
        ("empty", "LINE without any length is left out", 2),
        ("empty", "LWPOLYLINE without any length is left out", 1),
        ("empty", "HATCH without any length is left out", 2),
    }
    assert all(note.where.startswith("line ") for note in drawing.notes)
