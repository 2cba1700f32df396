"""Shares of area and allowed depths, against scipy's distance transform and figures worked out by hand."""

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from engine.blank import Cone, Cylinder, sample
from engine.kernel.values import Wanted
from engine.proof.allowed import allowed
from engine.proof.carve_field import Carved
from engine.proof.fidelity import compare, overcut

R = 20.0
BAR = sample(Cylinder(diameter_mm=2 * R, length_mm=60), 0.0, 60.0)


def wanted(depth, cell=0.05, x0=20.0, t0=-0.1, r=R):
    nx, nt = depth.shape
    return Wanted(
        x_mm=x0 + cell * np.arange(nx),
        theta_rad=t0 + cell / r * np.arange(nt),
        depth_mm=depth,
        feed_mm_min=100.0,
        plunge_mm_min=30.0,
    )


def carved_like(field, depth):
    return Carved(x_mm=field.x_mm, theta_rad=field.theta_rad, depth_mm=depth, whole=False, note="", removed_mm3=0.0)


def block(shape, rows, columns, depth=0.2):
    out = np.zeros(shape)
    out[rows[0] : rows[1], columns[0] : columns[1]] = depth
    return out


def test_distances_are_scipys_on_a_bar():
    rng = np.random.default_rng(5)
    field = wanted(np.where(rng.uniform(size=(70, 90)) > 0.995, 0.2, 0.0))
    may = allowed(field, BAR, reach_mm=0.5)
    rows = round((field.x_mm[0] - may.frame.x0) / may.frame.dx)
    columns = round((field.theta_rad[0] - may.frame.th0) / may.frame.dth)
    mask = np.pad(field.depth_mm > 0, ((rows, rows), (columns, columns)))
    want = distance_transform_edt(~mask, sampling=(0.05, 0.05))
    near = want <= 0.5
    assert may.away_mm[near] == pytest.approx(want[near], abs=1e-5)
    assert (may.away_mm[~near] > 0.5).all()


def test_a_turn_of_cells_goes_round():
    depth = np.zeros((9, 400))
    depth[:, 0] = 0.2
    theta = -np.pi + (np.arange(400) + 0.5) * (2 * np.pi / 400)
    field = Wanted(x_mm=20 + 0.3 * np.arange(9), theta_rad=theta, depth_mm=depth, feed_mm_min=100.0, plunge_mm_min=30.0)
    may = allowed(field, BAR, reach_mm=1.0)
    step = R * 2 * np.pi / 400
    assert may.away_mm[5, [-1, -2, 1, 2]] == pytest.approx([step, 2 * step, step, 2 * step], rel=1e-4)
    assert may.at(np.array([21.0]), np.array([np.pi - 0.01]))[0] == pytest.approx(0.2)
    assert may.at(np.array([21.0]), np.array([-np.pi + 0.01 + 6 * np.pi]))[0] == pytest.approx(0.2)
    assert may.at(np.array([21.0]), np.array([0.0]))[0] == 0


def test_the_deeper_of_two_depths_counts_where_they_meet():
    depth = block((60, 60), (10, 50), (10, 30), 0.1) + block((60, 60), (10, 50), (30, 50), 0.3)
    may = allowed(wanted(depth), BAR, reach_mm=0.25)
    theta = -0.1 + 0.05 / R * np.array([12, 24, 27, 40, 52, 58])
    assert may.at(np.full(6, 21.5), theta) == pytest.approx([0.1, 0.1, 0.3, 0.3, 0.3, 0.0])


def test_shares_of_area_by_hand():
    field = wanted(block((120, 120), (20, 60), (20, 100)))  # 2 by 4 mm
    may = allowed(field, BAR, reach_mm=0.4)
    half = compare(carved_like(field, block((120, 120), (20, 40), (20, 100))), field, may, BAR)
    assert half.cut_on_art == 1.0
    assert half.art_cut == half.art_half == pytest.approx(0.5, abs=0.03)  # half a cell of 40 at one edge
    shallow = compare(carved_like(field, block((120, 120), (20, 60), (20, 100), 0.09)), field, may, BAR)
    assert (shallow.art_cut, shallow.art_half) == (1.0, 0.0)
    beside = compare(carved_like(field, block((120, 120), (20, 100), (20, 100))), field, may, BAR)
    assert beside.cut_on_art == pytest.approx((40 + 4) / 80, abs=0.02)  # 0.2 mm are four cells
    assert beside.art_cut == 1.0
    nothing = compare(carved_like(field, np.zeros((120, 120))), field, may, BAR)
    assert (nothing.cut_on_art, nothing.art_cut) == (0.0, 0.0)


def test_area_is_measured_on_the_skin():
    """On a cone the wide end's half of the cells holds more than half of the area (closed form: r dx over slope)."""
    skin = Cone(diameter_mm=40, end_diameter_mm=80, length_mm=60)
    near = sample(skin, 0.0, 60.0)
    depth = np.full((400, 50), 0.2)
    field = wanted(depth, cell=0.1, x0=10.0)
    told = compare(
        carved_like(field, block((400, 50), (0, 200), (0, 50))), field, allowed(field, near, reach_mm=0.4), near
    )
    r = 20 + (10 + 0.1 * np.arange(400)) / 3
    assert told.art_cut == pytest.approx(r[:200].sum() / r.sum(), abs=0.004)


def test_overcut_finds_the_worst_cell_and_none_where_all_is_allowed():
    field = wanted(block((80, 80), (20, 60), (20, 60)))
    may = allowed(field, BAR, reach_mm=0.4)
    fine = block((80, 80), (14, 66), (14, 66), 0.204)
    assert overcut(carved_like(field, fine), may, grace_mm=0.005).x_mm.size == 0
    fine[30, 40], fine[31, 41], fine[2, 70] = 0.25, 0.3, 0.05
    told = overcut(carved_like(field, fine), may, grace_mm=0.005)
    k = told.worst
    assert (len(told), told.depth_mm[k], told.allowed_mm[k]) == (3, pytest.approx(0.3), pytest.approx(0.2))
    assert told.x_mm[k] == pytest.approx(20.0 + 0.05 * 31)
    assert told.theta_rad[k] == pytest.approx(-0.1 + 0.05 / R * 41)
    assert told.only(told.allowed_mm == 0).depth_mm == pytest.approx([0.05])
