"""Copies, borders and frames through the whole house: where they lie, that they meet, and that they are cut once."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from engine import pieces
from engine.blank import Cone, Cylinder
from engine.kernel.findings import Severity
from engine.layout import Placement, Projection
from engine.outcome.meeting import girth_mm
from tests.arranged import CONE, CYLINDER, OVOID, art, laid, of, planned

TURN = 2 * np.pi
BLANKS = [CYLINDER, CONE, OVOID]


def rows(laid_, k):
    part = slice(laid_.offsets[k], laid_.offsets[k + 1])
    return np.stack([laid_.x_mm[part], laid_.theta_rad[part], laid_.depth_mm[part]], axis=1)


@pytest.mark.parametrize("blank", BLANKS, ids=lambda b: b["shape"])
@pytest.mark.parametrize("projection", ["equidistant", "conformal", "equal-area"])
@pytest.mark.parametrize("kind", ["line", "double", "wave", "zigzag", "leaves"])
def test_a_border_closes_round_the_blank_and_is_cut_once(blank, projection, kind):
    border = {"kind": kind, "height_mm": 3}
    (piece,), findings = laid(art(border, 30, 33, style="outline", placement={"projection": projection}), blank=blank)
    assert {f.severity for f in findings} <= {Severity.NOTE}
    strokes = [rows(piece.laid, k) for k in range(len(piece.laid))]
    once_round = [s for s in strokes if np.ptp(s[:, 1]) > 6]
    assert len(once_round) == {"double": 2}.get(kind, 1)
    for stroke in once_round:
        assert stroke[-1] - stroke[0] == pytest.approx([0, TURN, 0], abs=1e-9)
        assert (np.diff(stroke[:, 1]) > 0).all()
        assert stroke[0, 1] == pytest.approx(np.pi, abs=1e-9) or stroke[0, 1] == pytest.approx(-np.pi, abs=1e-9)


def test_a_measured_skin_has_its_border_closed_too():
    border = art({"kind": "wave", "height_mm": 4}, 40, 71, style="outline")
    (piece,), _ = laid(border, blank={"shape": "stations", "stations": [
        {"x_mm": x, "diameter_mm": d} for x, d in ((0, 30), (40, 66.5), (90, 28))]})  # fmt: skip
    stroke = rows(piece.laid, 0)
    assert stroke[-1] - stroke[0] == pytest.approx([0, TURN, 0], abs=1e-9)


@pytest.mark.parametrize("seam", [180, 0, 75, -130])
def test_what_goes_once_round_begins_at_the_seam(seam):
    (piece,), _ = laid(art({"kind": "line"}, 30, 20, style="outline"), blank=CYLINDER | {"seam_deg": seam})
    first = rows(piece.laid, 0)[0, 1]
    assert abs(np.exp(1j * first) - np.exp(1j * np.radians(seam))) < 1e-9


def test_motifs_round_the_back_are_whole_and_evenly_spaced():
    (piece,), _ = laid(art({"kind": "rope", "height_mm": 4, "times": 16}, 45, style="outline"))
    middles = []
    for k in range(len(piece.laid)):
        ring = rows(piece.laid, k)
        assert ring[0] == pytest.approx(ring[-1], abs=1e-12)
        middles.append(0.5 * (ring[:, 1].min() + ring[:, 1].max()))
    assert len(middles) == 16
    assert np.diff(sorted(np.mod(middles, TURN))) == pytest.approx(np.full(15, TURN / 16), abs=1e-9)


def test_a_border_that_would_not_close_is_refused():
    """`developed` on a cone: a straight line across the flat pattern is no circle of the blank."""
    pieces, findings = laid(art({"kind": "line"}, 30, placement={"projection": "developed"}), blank=CONE)
    assert pieces == [] and [f.where.pointer for f in findings] == ["/artwork/0/placement/projection"]
    pieces, findings = laid(art({"kind": "line"}, 30, placement={"projection": "developed"}))
    assert len(pieces) == 1 and not of(findings, "layout-fault")


def test_the_plan_of_a_border_is_proven_and_finds_nothing():
    plan = planned(art({"kind": "wave", "height_mm": 4, "times": 12}, 45, style="outline"))
    assert [f for f in plan.findings if f.severity is not Severity.NOTE] == []
    assert plan.report["fidelity"]["cut_on_art"] > 0.999 and plan.report["fidelity"]["art_cut"] > 0.99
    assert plan.report["strokes"] == 1 and set(plan.programs) == {"engrave", "air", "walk"}


def test_copies_are_the_same_cut_an_even_part_of_a_turn_on():
    pieces, findings = laid(art("disc", 30, 10, repeat={"times": 5}))
    first = pieces[0].laid
    for k, piece in enumerate(pieces):
        assert piece.laid.x_mm == pytest.approx(first.x_mm, abs=1e-9)
        assert piece.laid.theta_rad - first.theta_rad == pytest.approx(np.full(len(first.x_mm), k * TURN / 5), abs=1e-9)
        assert piece.placed.facts()["number"] == k and piece.placed.facts()["index"] == 0
    assert findings == []


def test_mirrored_copies_are_mirror_images():
    placement = {"turn_deg": 25, "width_mm": 9}
    repeat = {"times": 2, "every_deg": 90, "mirror": "alternate"}
    (one, two), _ = laid(art("tile", 45, 10, style="outline", placement=placement, repeat=repeat))
    middle = np.radians(10 + 45)
    for part in ("rings", "lines"):
        a, b = getattr(one.placed.drawing, part).points, getattr(two.placed.drawing, part).points
        x, theta = one.placed.layout.wrap(a)
        over_x, over_theta = two.placed.layout.wrap(b)
        image = np.stack([x, 2 * middle - theta], axis=1)
        found = np.stack([over_x, over_theta], axis=1)
        away = np.abs(image[:, None] - found[None]).max(axis=2).min(axis=1)
        assert away.max() < 1e-9


@pytest.mark.parametrize("blank", BLANKS, ids=lambda b: b["shape"])
@pytest.mark.parametrize("projection", ["equidistant", "conformal", "equal-area"])
@pytest.mark.parametrize("mirror", ["none", "alternate"])
def test_fitted_copies_meet_side_to_side(blank, projection, mirror):
    """The tile's line runs from side to side: each copy's end is the next one's beginning, round to the first."""
    times = 8
    pieces, findings = laid(
        art("tile", 30, 12, style="outline", placement={"projection": projection},
            repeat={"times": times, "fit": True, "mirror": mirror}),
        blank=blank,
    )  # fmt: skip
    (told,) = of(findings, "copies-meet")
    assert told.severity is Severity.NOTE and f"{times} copies" in told.message
    ends = []
    for piece in pieces:
        (line,) = (piece.placed.drawing.lines[k] for k in range(len(piece.placed.drawing.lines)))
        x, theta = piece.placed.layout.wrap(line[[0, -1]])
        ends.append(np.stack([x, theta], axis=1)[np.argsort(theta)])
    for here, there in zip(ends, ends[1:] + [ends[0] + [0, TURN]], strict=True):
        assert there[0] - here[1] == pytest.approx([0, 0], abs=1e-9)


def test_how_far_copies_part_is_told_where_they_do_not_meet():
    """`true-width` on a cone: widths are true at every height, so rims of other radius have a gap: closed form."""
    repeat = {"times": 6, "fit": True}
    _, findings = laid(art("tile", 30, placement={"projection": "true-width"}, repeat=repeat), blank=CONE)
    (told,) = of(findings, "copies-part")
    radius = 25.0
    high = 8 / 10 * TURN * radius / 6  # of the tile, along the slant
    slope = 10 / 60
    rise = 0.5 * high / np.hypot(1, slope)
    gap = TURN / 6 * slope * rise
    assert told.severity is Severity.WARNING
    assert f"{gap:.2g} mm" in told.message and f"at x {30 - rise:.4g}" in told.message


@pytest.mark.parametrize("projection", list(Projection))
def test_once_round_is_measured_on_the_circle_through_the_centre(projection):
    skin = Cylinder(diameter_mm=40, length_mm=90)
    assert girth_mm(skin, Placement(x_mm=30, projection=projection)) == pytest.approx(40 * np.pi, rel=1e-9)
    skin = Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60)
    assert girth_mm(skin, Placement(x_mm=30, projection=projection)) == pytest.approx(50 * np.pi, rel=1e-9)


def test_a_frame_goes_round_every_copy_wherever_its_piece_stands():
    frame = art({"kind": "line", "height_mm": 2, "along": "frame", "around": 1, "margin_mm": 1}, style="outline")
    pieces, findings = laid(frame, art("disc", 30, placement={"width_mm": 12}, repeat={"times": 3}))
    assert findings == [] and [p.placed.item.index for p in pieces] == [0, 0, 0, 1, 1, 1]
    for k in range(3):
        ring, disc = pieces[k], pieces[3 + k]
        assert ring.placed.drawing.width_mm == disc.placed.drawing.width_mm + 2 * (1 + 2)
        middle = 0.5 * (ring.laid.theta_rad.min() + ring.laid.theta_rad.max())
        assert middle == pytest.approx(np.radians(120 * k), abs=1e-9)
        assert ring.laid.x_mm.min() == pytest.approx(30 - 6 - 1 - 1, abs=1e-9)


def test_a_frame_of_a_piece_that_cannot_be_laid_says_so():
    frame = art({"kind": "line", "along": "frame", "around": 0}, style="outline")
    pieces, findings = laid(art("disc", 300), frame)
    assert pieces == []
    assert [f.where.pointer for f in findings] == ["/artwork/0/placement/x_mm", "/artwork/1/border/around"]


def test_what_is_found_of_every_copy_is_told_once():
    _, findings = laid(art("disc", 98, repeat={"times": 5}))
    assert [(f.severity, f.where.pointer) for f in findings] == [(Severity.ERROR, "/artwork/0/placement/x_mm")]
    assert "4 more of its copies" in findings[0].message


def test_strokes_of_copies_and_their_art_are_told_by_number():
    plan = planned(art("disc", 30, style="outline", repeat={"times": 4}), art("disc", 60, style="outline"))
    assert sorted(set(plan.preview["stroke_item"].tolist())) == [0, 1, 2, 3, 4]
    arts = plan.preview_meta["arts"]
    assert [(a["index"], a["copy"], a["number"]) for a in arts] == [(0, k, k) for k in range(4)] + [(1, 0, 4)]
    assert plan.preview["art_like"].tolist() == [0, 0, 0, 0, 4]
    assert sorted(set(plan.preview["art_item"].tolist())) == [0, 4]
    for number in range(5):  # by their art, not by their index
        theta = plan.preview["stroke_theta"][
            np.repeat(plan.preview["stroke_item"], np.diff(plan.preview["stroke_offset"])) == number
        ]
        middle = np.degrees(0.5 * (theta.min() + theta.max()))
        assert (middle - arts[number]["angle_deg"] + 180) % 360 - 180 == pytest.approx(0, abs=0.01)


def test_the_seam_opens_the_pictures_and_leaves_the_cut_alone():
    """A disc a quarter turn right of the seam is a quarter of the picture's width from its left edge."""
    for seam in (180, -30):
        around = art({"kind": "line"}, 70, style="outline")
        plan = planned(art("disc", 40, seam + 90), around, blank=CYLINDER | {"seam_deg": seam})
        for data in (plan.picture, plan.difference):
            seen = np.asarray(Image.open(BytesIO(data)).convert("L")).astype(float)
            columns = np.flatnonzero((np.abs(seen - seen[-1, 0]) > 8)[len(seen) // 2 :].any(axis=0))
            middle = 0.5 * (columns[0] + columns[-1]) / seen.shape[1]
            assert middle == pytest.approx(0.25, abs=0.005)
    there = planned(art("disc", 40, 20), blank=CYLINDER | {"seam_deg": 75})
    here = planned(art("disc", 40, 20), blank=CYLINDER)
    bodies = [plan.programs["engrave"].text.split(b"\n(stroke 1)")[1] for plan in (there, here)]
    assert bodies[0] == bodies[1]


def test_copies_that_differ_by_a_turn_alone_are_looked_at_once(monkeypatch):
    """On a bar one look for all; each its own where the blank shows every copy otherwise, as to one eye."""
    looks, look = [], pieces.looks_bent
    monkeypatch.setattr(pieces, "looks_bent", lambda placed: looks.append(placed) or look(placed))
    for projection, count in (("equidistant", 1), ("from-view", 6)):
        looks.clear()
        laid(art("square", 40.0, 10.0, placement={"projection": projection}, repeat={"times": 6}))
        assert len(looks) == count


def test_lines_that_are_cut_along_are_told_once_a_piece_with_its_name_and_not_of_borders():
    letters = art("wreath", 45) | {"text": {"string": "O", "font": "single-line", "size_mm": 6}}
    del letters["asset"]
    wreaths = art("wreath", 20, name="wreath", repeat={"times": 3})
    _, found = laid(wreaths, art({"kind": "double"}, 70), letters)
    told = of(found, "lines-cut-along")
    assert [finding.where.pointer for finding in told] == ["/artwork/0", "/artwork/2"]
    assert told[0].message.startswith("1 closed line that is not filled of wreath (art 1) is cut along")
    assert told[1].message.startswith("1 closed line that is not filled of O (art 3) is")
    assert "in the drawing" in told[0].advice and "face that has outlines" in told[1].advice
