"""Art on art: the area against the closed form of two discs, the place within both, and what is meant is no warning."""

from math import acos, pi, sqrt

import pytest

from engine.kernel.findings import Severity
from tests.arranged import CONE, CYLINDER, OVOID, art, laid, of

R = 6.0


def lens(apart, r=R):
    """Area common to two discs of radius r (circle-circle intersection: twice a segment)."""
    return 2 * r * r * acos(apart / (2 * r)) - 0.5 * apart * sqrt(4 * r * r - apart * apart)


def told_area(finding):
    return float(finding.message.split(" over ")[1].split(" mm2")[0])


@pytest.mark.parametrize("apart", [2.0, 7.0, 11.0])
@pytest.mark.parametrize("angle", [0.0, 177.0, -200.0])
def test_two_discs_overlap_by_their_lens(apart, angle):
    turn = apart / 20.0 * 180 / pi
    _, findings = laid(art("disc", 45, angle), art("disc", 45, angle + turn - 360, name="second"))
    (told,) = of(findings, "art-overlaps")
    assert told.severity is Severity.WARNING and told.where.pointer == "/artwork/1"
    assert "art 1 and second (art 2)" in told.message
    assert told_area(told) == pytest.approx(lens(apart), rel=0.03)
    assert told.where.x_mm == pytest.approx(45, abs=0.5)
    off = (told.where.angle_deg - angle - 0.5 * turn + 180) % 360 - 180
    assert abs(off) * pi / 180 * 20 < 0.5


@pytest.mark.parametrize(("blank", "projection"), [(CONE, "developed"), (OVOID, "equal-area")])
def test_the_area_is_that_of_the_skin(blank, projection):
    """Along the axis, 7 mm apart on the sheet of the first: the developed cone is true, the other keeps areas."""
    laying = {"projection": projection}
    _, findings = laid(
        art("disc", 28, 0, placement=laying),
        art("disc", 28, 0, placement=laying | {"width_mm": 10, "height_mm": 10}),
        blank=blank,
    )
    (told,) = of(findings, "art-overlaps")
    assert told_area(told) == pytest.approx(pi * 3 * 3, rel=0.02)


def test_discs_that_touch_or_stand_apart_are_no_finding():
    for apart in (12.0, 12.01, 14.0):
        _, findings = laid(art("disc", 45, 0), art("disc", 45, apart / 20.0 * 180 / pi))
        assert of(findings, "art-overlaps") == []


@pytest.mark.parametrize("width", [9.97, 10.01, 7.333])
def test_squares_that_meet_edge_to_edge_are_no_finding(width):
    size = {"width_mm": width}
    beside = width / 20.0 * 180 / pi
    _, findings = laid(art("square", 45, 3, placement=size), art("square", 45, 3 + beside, placement=size))
    assert of(findings, "art-overlaps") == []
    _, findings = laid(art("square", 40, 3, placement=size), art("square", 40 + width, 3, placement=size))
    assert of(findings, "art-overlaps") == []
    _, findings = laid(art("square", 40, 3, placement=size), art("square", 39.7 + width, 3, placement=size))
    assert told_area(*of(findings, "art-overlaps")) == pytest.approx(0.3 * width, rel=0.2)


def test_a_frame_does_not_lie_on_its_piece_and_a_border_over_art_does():
    frame = art({"kind": "rope", "height_mm": 2, "along": "frame", "around": 0, "margin_mm": 0.5})
    _, findings = laid(art("disc", 45), frame)
    assert of(findings, "art-overlaps") == []
    _, findings = laid(art("disc", 45, 170), art({"kind": "rope", "height_mm": 4}, 45))
    (told,) = of(findings, "art-overlaps")
    assert told.severity is Severity.WARNING


def test_the_same_art_marked_in_two_ways_is_a_note():
    _, findings = laid(art("disc", 45), art("disc", 45, style="outline"))
    (told,) = of(findings, "art-overlaps")
    assert told.severity is Severity.NOTE and "marked in two ways" in told.message
    _, findings = laid(art("disc", 45), art("disc", 45, 1, style="outline"))
    assert of(findings, "art-overlaps")[0].severity is Severity.WARNING


def test_copies_on_each_other_are_told_once_with_all_their_area():
    every = 7.0 / 20.0 * 180 / pi
    _, findings = laid(art("disc", 45, repeat={"times": 4, "every_deg": every}))
    (told,) = of(findings, "art-overlaps")
    assert "copies of art 1" in told.message and "3 pairs" in told.message
    assert told_area(told) == pytest.approx(3 * lens(7.0), rel=0.02)


def test_lines_that_cross_are_told_and_lines_that_only_meet_are_not():
    line, wave = {"kind": "line", "height_mm": 2}, {"kind": "double", "height_mm": 4}
    _, findings = laid(art(line, 40, style="outline"), art(wave, 44, style="outline"))
    assert of(findings, "art-overlaps") == []
    _, findings = laid(art(line, 42, style="outline"), art(wave, 44, style="outline"), blank=CYLINDER)
    (told,) = of(findings, "art-overlaps")
    assert told_area(told) > 20
