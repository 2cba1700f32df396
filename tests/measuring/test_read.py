"""Callipers by way of their routes: what the page and scripts send, and the blank that comes back."""

import json

import numpy as np
import pytest

import engine
from engine.blank import Ovoid, sigma_at
from engine.kernel.errors import BlankError
from tests.measuring.ask import ask, problems, skin_of

ROUND = [{"x_mm": x, "diameter_mm": d} for x, d in ((0, 40), (20, 46), (40, 50), (60, 44), (80, 30))]
OVAL = [{"x_mm": x, "diameter_mm": 60, "across_mm": 44} for x in (0, 30, 60, 90)]
SHOWN = {"x_mm", "angle_deg", "radius_mm", "sigma_mm", "known", "runout_mm", "runout_deg"}


def test_round_stations_come_back_as_stations_that_stay_editable():
    answer = ask("callipers", {"stations": ROUND})
    blank = answer.value["blank"]
    assert answer.table is None and blank["shape"] == "stations" and blank["stations"] == ROUND
    assert blank["radius_error_mm"] == pytest.approx(answer.value["sigma_mm"], abs=1e-4)
    assert set(answer.value["skin"]) == SHOWN
    assert (
        answer.value["readings"]["radius_mm"][:5] == [20, 23, 25, 22, 15] or len(answer.value["readings"]["x_mm"]) >= 5
    )
    json.dumps(answer.value, allow_nan=False)


def test_oval_stations_become_the_ellipse_of_the_two_diameters():
    skin = skin_of(ask("callipers", {"stations": OVAL, "reading_error_mm": 0.02}))
    theta = np.radians([0, 15, 30, 45, 60, 90])
    published = [
        30,
        29.1719519966,
        27.2179412618,
        25.0894354019,
        23.3930797653,
        22,
    ]  # polar form of the ellipse 30 x 22
    assert skin.radius(np.full(6, 47.0), theta) == pytest.approx(published, abs=2e-4)
    assert (sigma_at(skin, np.full(6, 47.0), theta) > 0.005).all()


def test_an_eggs_stations_find_its_four_readings_and_the_residual_is_shown():
    egg = Ovoid(length_mm=57, breadth_mm=44, shift_mm=2, quarter_diameter_mm=36.5)
    x = np.linspace(4, 53, 9)
    stations = [
        {"x_mm": a, "diameter_mm": round(2 * float(r), 3)}
        for a, r in zip(x.tolist(), egg.radius(x, 0 * x), strict=True)
    ]
    answer = ask("ovoid", {"stations": stations, "length_mm": 57, "reading_error_mm": 0.01})
    blank = answer.value["blank"]
    assert [blank[k] for k in ("shape", "length_mm")] == ["ovoid", 57]
    assert [blank[k] for k in ("breadth_mm", "shift_mm", "quarter_diameter_mm")] == pytest.approx(
        [44, 2, 36.5], abs=0.01
    )
    assert np.abs(answer.value["readings"]["residual_mm"]).max() < 0.001
    assert len(answer.value["readings"]["x_mm"]) == 9 and answer.value["how"]


@pytest.mark.parametrize("xs", [np.linspace(4, 25, 5), np.linspace(4, 58, 4), np.linspace(4, 58, 9)])
@pytest.mark.parametrize("error_mm", [0.0, 0.05])
def test_an_eggs_skin_and_its_blank_tell_one_error_and_never_none(xs, error_mm):
    stations = [
        {"x_mm": float(x), "diameter_mm": float(46 * np.sqrt(1 - ((x - 31) / 31) ** 2) * (1 - 0.1 * (x - 31) / 31))}
        for x in xs
    ]
    answer = ask("ovoid", {"stations": stations, "reading_error_mm": error_mm})
    assert answer.value["sigma_mm"] == answer.value["blank"]["radius_error_mm"] > 0
    assert np.ptp(answer.value["skin"]["sigma_mm"]) == 0 and answer.value["skin"]["sigma_mm"][0][0] > 0


def test_end_for_end_of_one_cone_is_the_cone():
    cone = {"shape": "cone", "diameter_mm": 40, "end_diameter_mm": 60, "length_mm": 80, "radius_error_mm": 0.01}
    turned = {**cone, "diameter_mm": 60, "end_diameter_mm": 40}
    marks = [
        {"first": {"x_mm": 10, "angle_deg": 20}, "second": {"x_mm": 70, "angle_deg": 340}},
        {"first": {"x_mm": 60, "angle_deg": 120}, "second": {"x_mm": 20, "angle_deg": 240}},
    ]
    skin = skin_of(ask("end-for-end", {"first": cone, "second": turned, "marks": marks}))
    x = np.linspace(5, 75, 15)
    assert skin.radius(x, 0 * x) == pytest.approx(30 - 10 * x / 80, abs=0.01)
    apart = [marks[0], {**marks[1], "second": {"x_mm": 24, "angle_deg": 240}}]
    with pytest.raises(BlankError):
        ask("end-for-end", {"first": cone, "second": turned, "marks": apart})


@pytest.mark.parametrize(
    ("way", "document", "places"),
    [
        ("callipers", {}, {"/stations"}),
        ("callipers", {"stations": [ROUND[0]]}, {"/stations"}),
        ("callipers", {"stations": [*ROUND, {"x_mm": "90", "diameter_mm": 20}]}, {"/stations/5/x_mm"}),
        ("callipers", {"stations": ROUND, "wide": 1}, {"/wide"}),
        ("outline", {"photo": {"asset": "none"}}, {"/photo/asset"}),
        ("lens", {"photos": ["none", "neither"]}, {"/photos/0", "/photos/1"}),
        (
            "end-for-end",
            {"first": {"shape": "grid", "asset": "none"}, "second": {"shape": "grid", "asset": "no"}, "marks": []},
            {"/marks"},
        ),
    ],
)
def test_what_is_wrong_is_told_by_its_place_before_anything_is_opened(way, document, places):
    assert problems(way, document) == places


def test_readings_of_which_no_skin_can_be_made_are_told_by_their_place():
    with pytest.raises(BlankError) as told:
        ask("callipers", {"stations": [*ROUND, {"x_mm": 80, "diameter_mm": 20}]})
    assert told.value.where.startswith("/stations/5") and told.value.hint


def test_every_way_says_what_it_is_about_and_refuses_what_is_no_document():
    for name, way in engine.WAYS.items():
        assert way.about.endswith(".") and len(way.about) < 110
        assert problems(name, [])
        assert problems(name, {"no": "such field"})
