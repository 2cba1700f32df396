"""Calliper stations and measured grids: through every reading, never beyond it, and refused with the reading's name."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.blank import Stations, check_grid, read_grid
from engine.kernel.errors import BlankError
from tests.blank.skins import gourd_csv

READINGS = st.lists(st.floats(1, 200), min_size=2, max_size=12)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(READINGS, st.integers(0, 1000))
def test_stations_pass_through_their_readings_and_never_overshoot(diameters, seed):
    x = np.cumsum(np.random.default_rng(seed).uniform(0.5, 20, len(diameters)))
    skin = Stations(x_mm=x, diameter_mm=np.array(diameters))
    assert np.allclose(2 * skin.radius(x, np.zeros(1)), diameters, rtol=1e-12)
    for k in range(len(x) - 1):
        between = 2 * skin.radius(np.linspace(x[k], x[k + 1], 50), np.zeros(1))
        low, high = sorted(diameters[k : k + 2])
        assert (between >= low - 1e-9).all()
        assert (between <= high + 1e-9).all()


@pytest.mark.parametrize(
    ("x", "d", "where"),
    [
        ([0, 10, 10], [5, 6, 7], "/blank/stations/2/x_mm"),
        ([0, 10, 20], [5, 0, 7], "/blank/stations/1/diameter_mm"),
        ([0, 10, 20], [5, float("nan"), 7], "/blank/stations/1/diameter_mm"),
        ([0, 10, float("inf")], [5, 6, 7], "/blank/stations/2/x_mm"),
        ([0], [5], "/blank/stations"),
    ],
)
def test_wrong_readings_are_named(x, d, where):
    with pytest.raises(BlankError) as told:
        Stations(x_mm=np.array(x, float), diameter_mm=np.array(d, float))
    assert told.value.where == where


def test_a_grid_passes_through_every_reading_in_any_order():
    data = gourd_csv()
    head, *rows = data.decode().splitlines()
    shuffled = "\n".join([head, *np.random.default_rng(3).permutation(rows)]).encode()
    skin, same = read_grid(data), read_grid(b"\xef\xbb\xbf" + shuffled)
    table = np.array([[float(v) for v in row.split(",")] for row in rows])
    assert np.abs(skin.radius(table[:, 0], np.radians(table[:, 1])) - table[:, 2]).max() < 1e-9
    assert np.array_equal(skin.coefficients, same.coefficients)
    assert skin.x_range_mm == (5.0, 125.0)


def test_a_blank_held_off_its_axis_is_a_first_harmonic():
    """By hand: circle R 25 held 1 mm off: 26, 25.6971047804 (45 deg), 24.9799919936 (90), 24 (180)."""
    t = np.arange(0, 360, 7.5)
    r = np.cos(np.radians(t)) + np.sqrt(625 - np.sin(np.radians(t)) ** 2)
    lines = ["x_mm,angle_deg,radius_mm"]
    lines += [f"{x},{a},{b:.10f}" for x in (0, 4, 9, 20, 33, 50) for a, b in zip(t, r, strict=True)]
    skin = read_grid("\n".join(lines).encode())
    at = np.radians([0, 45, 90, 135, 180])
    wanted = [26, 25.6971047804, 24.9799919936, 24.2828912180, 24]
    assert np.allclose(skin.radius(np.full(5, 14.0), at), wanted, rtol=0, atol=1e-6)


def test_uneven_angles_are_carried_to_even_ones():
    t = np.sort(np.random.default_rng(5).uniform(0, 360, 60)).round(3)
    t = t[np.diff(t, append=999) > 1]
    lines = ["angle_deg,x_mm,radius_mm"]
    lines += [f"{a - 720},{x},{30 + np.cos(2 * np.radians(a)):.9f}" for x in range(0, 60, 10) for a in t]
    skin = read_grid("\n".join(lines).encode())
    probe = np.radians(t)
    assert np.abs(skin.radius(np.full(len(t), 25.0), probe) - 30 - np.cos(2 * probe)).max() < 5e-3


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "lacks a column"),
        (b"x,y,z\n1,2,3", "lacks a column"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"x_mm,angle_deg,radius_mm\n1,2", "row 2"),
        (b"x_mm,angle_deg,radius_mm\n1,2,nan", "row 2 is out of range"),
        (b"x_mm,angle_deg,radius_mm\n1,2,-4", "row 2 is out of range"),
        (b"x_mm,angle_deg,radius_mm\n1,2,0", "row 2 lies at the axis"),
        (b"x_mm,angle_deg,radius_mm\n1,2,3,,\n1,0,22,5,20,3", "row 3 has more cells than the 3 headings"),
        (b"x_mm,angle_deg,radius_mm\n1,0,5\n2,0,5", "too few"),
        (gourd_csv() + b"\n5.000000,0.000000,24.0", "more than one reading"),
        (b"\n".join(gourd_csv().split(b"\n")[:-1]), "no reading"),
    ],
)
def test_a_broken_table_is_refused_in_words(data, says):
    for door in (check_grid, read_grid):
        with pytest.raises(BlankError, match=says):
            door(data)


def test_a_table_of_too_many_rows_is_refused():
    with pytest.raises(BlankError, match="too many rows"):
        check_grid(b"x_mm,angle_deg,radius_mm\n" + b"1,2,3\n" * 100_001)
    check_grid(gourd_csv())


def test_readings_that_never_share_a_station_or_an_angle_are_refused_before_room_is_made_for_them():
    lines = ["x_mm,angle_deg,radius_mm", *(f"{k / 10},{k / 300:.4f},20" for k in range(99_000))]
    with pytest.raises(BlankError, match="99000 stations at 99000 angles"):
        check_grid("\n".join(lines).encode())


def test_uneven_stations_are_carried_to_even_ones():
    x = np.array([0, 3, 9, 12, 20, 26, 35, 41, 50.0])
    lines = ["x_mm,angle_deg,radius_mm"]
    lines += [f"{a},{b},{20 + (a / 20) ** 3:.9f}" for a in x for b in range(0, 360, 30)]
    skin = read_grid("\n".join(lines).encode())
    probe = np.linspace(0, 50, 101)
    assert np.abs(skin.radius(probe, np.zeros(1)) - 20 - (probe / 20) ** 3).max() < 1e-8  # cubics are kept exactly


def test_readings_whose_skin_would_cross_the_axis_are_refused():
    lines = ["x_mm,angle_deg,radius_mm"]
    heights = (0.1, 0.1, 60, 0.1, 0.1, 60)
    lines += [f"{10 * k},{b},{r}" for k, r in enumerate(heights) for b in range(0, 360, 30)]
    with pytest.raises(BlankError, match="below the axis"):
        read_grid("\n".join(lines).encode())


def test_the_mean_round_skin_is_the_mean_over_all_angles():
    skin = read_grid(gourd_csv())
    x = np.linspace(5, 125, 77)
    theta = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    mean = skin.averaged()
    assert mean.is_round
    assert np.allclose(mean.radius(x, np.ones(1)), skin.radius(x[:, None], theta[None, :]).mean(axis=1), atol=1e-10)
    slope = skin.slopes(x[:, None], theta[None, :])[0].mean(axis=1)
    assert np.allclose(mean.slopes(x, np.ones(1))[0], slope, atol=1e-10)
