"""Rays against an independent ray caster (Moeller, Trumbore 1997: every ray, every triangle) and closed forms."""

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.measure.scan import Axis, Mesh, polar
from tests.measure.scan import bodies
from tests.measure.scan.bodies import ALONG_X


def cast(mesh, x, count, *, edge=1e-9):
    """(m, n) greatest radius and (m, n) number of distinct meetings, by brute force in the file's frame, axis = x.

    T. Moeller, B. Trumbore, "Fast, minimum storage ray/triangle intersection", J. Graphics Tools 2 (1997) 21-28.
    """
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    e1, e2 = b - a, c - a
    radius, times = np.zeros((len(x), count)), np.zeros((len(x), count), int)
    for j in range(count):
        theta = 2 * np.pi * j / count
        d = np.array([0.0, np.cos(theta), np.sin(theta)])
        p = np.cross(d, e2)
        det = (e1 * p).sum(1)
        ok = np.abs(det) > 1e-12
        inv = 1 / np.where(ok, det, 1.0)
        for i, station in enumerate(x):
            s = np.array([station, 0.0, 0.0]) - a
            u = (s * p).sum(1) * inv
            q = np.cross(s, e1)
            v = (q @ d) * inv
            t = (e2 * q).sum(1) * inv
            hit = np.sort(t[ok & (u >= -edge) & (v >= -edge) & (u + v <= 1 + edge) & (t > 1e-9)])
            if len(hit):
                radius[i, j] = hit[-1]
                times[i, j] = 1 + int((np.diff(hit) > 1e-9).sum())
    return radius, times


def blob(seed, faces=160):
    """Random triangles of all sizes about the axis: they overlap, hide one another, enclose the axis, cross pi."""
    rng = np.random.default_rng(seed)
    middles = rng.normal(size=(faces, 1, 3)) * [12.0, 8.0, 8.0]
    corners = middles + rng.normal(size=(faces, 3, 3)) * rng.choice([0.5, 4.0, 15.0], (faces, 1, 1))
    return Mesh(vertices=corners.reshape(-1, 3), faces=np.arange(3 * faces).reshape(-1, 3))


@pytest.mark.parametrize("seed", range(6))
def test_random_triangles_are_met_as_by_brute_force(seed):
    mesh = blob(seed)
    x = np.linspace(-25.0, 25.0, 31)
    rays = polar(mesh, ALONG_X, x, 40)
    radius, times = cast(mesh, x, 40)
    np.testing.assert_allclose(rays.radius_mm, radius, atol=1e-8)
    np.testing.assert_array_equal(rays.met, radius > 0)
    np.testing.assert_array_equal(rays.times, times)


def mushroom():
    """A stem, a cap that overhangs it (the rim hangs down over it), by its profile; not single-valued in x."""
    x = np.array([0.0, 20.0, 20.0, 14.0, 14.0, 26.0, 30.0])
    r = np.array([5.0, 5.0, 9.0, 9.0, 12.0, 12.0, 4.0])
    return bodies.revolved(x, r, 48)


def test_an_undercut_is_met_three_times_and_its_depth_told():
    x = np.array([7.0, 13.0, 15.0, 17.0, 19.0, 23.0, 28.0])
    rays = polar(mushroom(), ALONG_X, x, 48)
    np.testing.assert_allclose(rays.radius_mm, np.array([5, 5, 12, 12, 12, 12, 8])[:, None] * np.ones(48), atol=1e-9)
    np.testing.assert_array_equal(rays.times, np.array([1, 1, 3, 3, 3, 1, 1])[:, None] * np.ones(48))
    np.testing.assert_allclose(rays.hidden_mm, np.array([0, 0, 7, 7, 7, 0, 0])[:, None] * np.ones(48), atol=1e-9)
    assert (rays.wall_mm == 0).all()


def test_a_vessel_has_a_wall_and_no_undercut():
    x = np.array([0.0, 60.0, 60.0, 5.0])
    rays = polar(bodies.revolved(x, np.array([20.0, 20.0, 17.0, 17.0]), 36), ALONG_X, np.array([2.0, 30.0]), 36)
    np.testing.assert_allclose(rays.wall_mm[1], 3.0, atol=1e-9)
    assert (rays.wall_mm[0] == 0).all() and (rays.hidden_mm == 0).all()


def test_stations_on_vertices_and_at_both_ends_are_met_everywhere():
    x = np.array([0.0, 10.0, 30.0])
    body = bodies.revolved(x, np.array([5.0, 8.0, 4.0]), 24)
    rays = polar(body, ALONG_X, x, 24)
    np.testing.assert_allclose(rays.radius_mm, np.array([5, 8, 4])[:, None] * np.ones(24), atol=1e-12)
    np.testing.assert_allclose(rays.radius_mm, cast(body, x, 24)[0], atol=1e-8)


def test_a_step_gives_the_greater_radius_at_the_station_of_its_face():
    body = bodies.revolved(np.array([0.0, 10.0, 10.0, 20.0]), np.array([5.0, 5.0, 9.0, 9.0]), 24)
    rays = polar(body, ALONG_X, np.array([9.0, 10.0, 11.0]), 24)
    np.testing.assert_allclose(rays.radius_mm, np.array([5, 9, 9])[:, None] * np.ones(24), atol=1e-12)
    assert (rays.times == 1).all()


@pytest.mark.parametrize("sides", [3, 4])
def test_few_large_facets_around_the_axis(sides):
    body = bodies.revolved(np.array([0.0, 10.0]), np.array([6.0, 6.0]), sides)
    rays = polar(body, ALONG_X, np.linspace(0, 10, 5), 360)
    theta = np.arange(360) * (2 * np.pi / 360)
    away = np.mod(theta, 2 * np.pi / sides) - np.pi / sides
    prism = 6 * np.cos(np.pi / sides) / np.cos(away)
    np.testing.assert_allclose(rays.radius_mm, np.ones((5, 1)) * prism, atol=1e-12)


def test_a_ray_along_the_open_edge_of_a_sheet_meets_it_from_either_side():
    for side in (1, -1):
        sheet = Mesh(vertices=np.array([[-5.0, 10, 0], [5, 10, 0], [0, 6, 8 * side]]), faces=np.array([[0, 1, 2]]))
        rays = polar(sheet, ALONG_X, np.array([0.0]), 4)
        assert rays.radius_mm[0, 0] == 10.0 and rays.face[0, 0] == 0
        assert (rays.radius_mm[0, 1:] == 0).all()


def test_degenerate_triangles_change_nothing():
    body = bodies.revolved(np.array([0.0, 10.0, 30.0]), np.array([5.0, 8.0, 4.0]), 24)
    more = np.array([[0, 0, 5], [7, 7, 7], [3, 4, 3]])
    sick = Mesh(vertices=body.vertices, faces=np.concatenate([body.faces, more]))
    x = np.linspace(0, 30, 13)
    a, b = polar(body, ALONG_X, x, 48), polar(sick, ALONG_X, x, 48)
    np.testing.assert_array_equal(a.radius_mm, b.radius_mm)
    np.testing.assert_array_equal(a.times % 2, b.times % 2)


@pytest.mark.parametrize("steps", [1, 17, 90, 181])
def test_turning_the_mesh_by_grid_steps_rolls_the_grid(steps):
    x = np.linspace(0, 60, 41)
    lobed = bodies.revolved(x, 20 + np.sin(x / 9), 77, lobes=lambda t: 0.05 * np.cos(3 * t) + 0.02 * np.sin(t))
    at = np.linspace(0, 60, 53)
    still = polar(lobed, ALONG_X, at, 360)
    turned = polar(bodies.turned_about_x(lobed, steps * 2 * np.pi / 360), ALONG_X, at, 360)
    np.testing.assert_allclose(turned.radius_mm, np.roll(still.radius_mm, steps, axis=1), atol=1e-12, rtol=0)
    np.testing.assert_array_equal(turned.times, np.roll(still.times, steps, axis=1))
    carried = Axis(origin=np.zeros(3), direction=np.array([1.0, 0, 0]), angle_deg=-float(steps))
    np.testing.assert_allclose(polar(lobed, carried, at, 360).radius_mm, turned.radius_mm, atol=1e-12, rtol=0)


def test_no_ray_slips_between_two_hundred_thousand_facets_and_the_chord_is_all_that_is_lost():
    """r = 30 + 5 sin(x/20) + 1.5 cos 3 theta, 400 x 251 points: chord errors are 0.0010 around and 0.0004 along."""
    x = np.linspace(0, 120, 251)
    theta = np.arange(400) * (2 * np.pi / 400)
    body = bodies.revolved(x, 30 + 5 * np.sin(x / 20)[:, None] + 1.5 * np.cos(3 * theta), 400, caps=False)
    at = np.linspace(1, 119, 500)
    rays = polar(body, ALONG_X, at, 360)
    assert rays.met.all() and (rays.times == 1).all()
    true = 30 + 5 * np.sin(at / 20)[:, None] + 1.5 * np.cos(3 * np.arange(360) * (2 * np.pi / 360))
    assert np.abs(rays.radius_mm - true).max() < 0.0025


SPHEROID = {5: 21.6922925380, 10: 20.7417989148, 15: 19.0525588833, 20: 16.3978318350, 25: 12.1609575646}
EGG = {-0.45: 10.1085755941, -0.25: 19.5426471705, 0: 21.6763483246, 0.25: 18.0, 0.45: 8.7748749075}


def test_radii_of_a_spheroid_by_its_table():
    """A spheroid: semi-axes 30 and 22; 400 rings of 400 facets lie within 0.004 mm inside."""
    body = bodies.spheroid(30.0, 22.0, 399, 400)
    rays = polar(body, ALONG_X, np.array(list(SPHEROID), float), 90)
    inside = np.array(list(SPHEROID.values()))[:, None] - rays.radius_mm
    assert (inside > -1e-9).all() and (inside < 0.004).all()


def test_radii_of_an_egg_by_its_table():
    """The egg of the published curve (`bodies`): L 56, B 43.5, w 1.9, D 36."""
    x = -28 * np.cos(np.linspace(0, np.pi, 501))
    body = bodies.revolved(x, np.maximum(bodies.egg(x), 1e-9), 500)
    rays = polar(body, ALONG_X, 56 * np.array(list(EGG), float), 90)
    inside = np.array(list(EGG.values()))[:, None] - rays.radius_mm
    assert (inside > -1e-9).all() and (inside < 0.004).all()


@pytest.mark.parametrize("x", [[1.0, 1.0], [2.0, 1.0], [np.nan], []])
def test_stations_that_do_not_rise_are_refused(x):
    with pytest.raises(BlankError) as caught:
        polar(mushroom(), ALONG_X, np.array(x), 36)
    assert caught.value.hint


@pytest.mark.parametrize(("stations", "count"), [(10, 2), (10, 10_000_000), (300_000, 36)])
def test_a_grid_beyond_all_bounds_is_refused_before_it_is_made(stations, count):
    with pytest.raises(BlankError):
        polar(mushroom(), ALONG_X, np.linspace(0, 30, stations), count)
