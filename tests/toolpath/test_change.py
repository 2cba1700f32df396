"""Legs of several tools make one path: strokes run on, tools come in turn, and a change is made clear of everything."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.blank import Cylinder
from engine.kernel.values import Form, KeepOut, Kind, Tool
from engine.machine import Axis, Park, Profile
from engine.toolpath import Leg, link, link_legs
from engine.toolpath.change import CHANGE_LIFT_MM
from tests.toolpath.runs_made import runs_of

R, DEEP = 20.0, 19.8
SKIN = Cylinder(diameter_mm=2 * R, length_mm=60)
CONE, FLAT = Tool(), Tool(id="flat", form=Form.FLAT, diameter_mm=2.0)
FIRST = runs_of([[[(10, 0.1, DEEP), (14, 0.1, DEEP)]], [[(20, 7.0, DEEP), (22, 7.2, DEEP)]]])
SECOND = runs_of([[[(30, 0.4, DEEP), (34, 0.1, DEEP)]]])
PLACE = (5.0, 90.0)


def linked(machine=None, legs=None, **more):
    legs = legs or [Leg(number=0, tool=FLAT, runs=FIRST), Leg(number=1, tool=CONE, runs=SECOND)]
    return link_legs(legs, SKIN, machine or Profile(), waits_at=PLACE, **more)


def test_one_leg_is_the_link_of_its_runs():
    path, alone = linked(legs=[Leg(number=0, tool=CONE, runs=FIRST)]), link(FIRST, SKIN, CONE, Profile())
    for name in ("x_mm", "theta_rad", "r_mm", "kind", "stroke", "feed_mm_min", "tool"):
        assert np.array_equal(getattr(path, name), getattr(alone, name))


def test_strokes_run_on_and_each_tool_makes_the_moves_of_its_own_leg():
    path = linked()
    (a, b), (c, d) = path.stints
    assert (a, d, b) == (0, len(path), c)
    assert sorted(set(path.stroke[a:b].tolist())) == [0, 1, 2] and set(path.stroke[c:d].tolist()) == {0, 3}
    assert path.tool.tolist() == [0] * (b - a) + [1] * (d - c)
    alone = link(SECOND, SKIN, CONE, Profile())
    for name in ("x_mm", "theta_rad", "r_mm", "kind", "feed_mm_min"):
        assert np.array_equal(getattr(path, name)[c:], getattr(alone, name))


def test_a_tool_is_changed_over_the_place_where_its_zero_is_set():
    path = linked()
    last = path.stints[0][1] - 1
    assert (path.x_mm[last], math.degrees(path.theta_rad[last])) == pytest.approx(PLACE)
    assert path.r_mm[last] == path.r_mm[last - 1] == pytest.approx(path.r_mm[0] + CHANGE_LIFT_MM)
    assert (path.kind[last - 1 :][:3] == Kind.TRAVEL).all()
    assert (
        path.r_mm[last - 2] < R + 1 < path.r_mm[last + 1]
    )  # straight up before it goes there, and high when it leaves


def test_or_where_the_machine_parks():
    park = Park(x_mm=-8.0, angle_deg=12.0, lift_mm=4.0)
    path = linked(Profile(park=park))
    for _, stop in path.stints:
        here = path.x_mm[stop - 1], math.degrees(path.theta_rad[stop - 1]), path.r_mm[stop - 1]
        assert here == pytest.approx((-8.0, 12.0, path.r_mm[0] + 4.0))


@pytest.mark.parametrize(
    ("axis", "place"),
    [
        ({"radial": Axis(letter="Z", greatest=23.0)}, (5.0, 90.0, 23.0)),
        ({"radial": Axis(letter="Z", greatest=21.0)}, (5.0, 90.0, None)),  # not even the hops' own height: as it is
        ({"radial": Axis(letter="Z", reversed=True, least=-24.0)}, (5.0, 90.0, 24.0)),
        ({"axial": Axis(letter="X", least=8.0)}, (22.0, 90.0, None)),
        ({"rotary": Axis(letter="A", least=180.0, greatest=900.0)}, (5.0, 450.0, None)),
        ({"rotary": Axis(letter="A", least=-900.0, greatest=0.0)}, (5.0, -270.0, None)),
        ({"rotary": Axis(letter="A", least=95.0, greatest=440.0)}, (5.0, math.degrees(7.2), None)),
    ],
)
def test_the_waiting_place_is_one_that_the_machine_reaches(axis, place):
    path = linked(replace(Profile(), **axis))
    last = path.stints[0][1] - 1
    assert (path.x_mm[last], math.degrees(path.theta_rad[last])) == pytest.approx(place[:2])
    room = place[2] is None
    if not room:
        assert path.r_mm[last] == pytest.approx(place[2])
    assert path.r_mm[last] >= path.r_mm[0]


def test_the_limit_of_the_radial_axis_counts_from_its_zero():
    machine = Profile(radial=Axis(letter="Z", greatest=4.0))
    path = linked(machine, zero_r_mm=R)
    assert path.r_mm[path.stints[0][1] - 1] == pytest.approx(R + 4.0)


def test_the_way_to_the_waiting_place_goes_over_hardware():
    jaws = KeepOut(from_mm=-5, to_mm=8, radius_mm=40.0)
    path = linked(keep_out=[jaws])
    over = (path.x_mm < 9) & (path.stroke == 0)
    assert over.any() and path.r_mm[over].min() > 42


def test_what_is_left_after_a_stop_keeps_its_tools_numbers():
    path = linked(legs=[Leg(number=2, tool=CONE, runs=FIRST)])
    assert set(path.tool.tolist()) == {2} and path.stroke.max() == 2
