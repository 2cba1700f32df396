"""The axis found by inertia against closed forms, and the handles that move it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from engine.kernel.errors import BlankError
from engine.measure.scan import Axis, Mesh, find_axis
from tests.measure.scan import bodies
from tests.measure.scan.bodies import ALONG_X

EGG_X = np.linspace(-28.0, 28.0, 81)
EGG = bodies.revolved(EGG_X, np.maximum(bodies.egg(EGG_X), 1e-6), 60)


def moved(mesh, turn, shift):
    return Mesh(vertices=mesh.vertices @ turn.as_matrix().T + shift, faces=mesh.faces)


def codes(axis):
    return [finding.code for finding in axis.findings]


@given(st.integers(0, 2**32 - 1))
@settings(derandomize=True, deadline=None, max_examples=15)
def test_the_axis_of_a_turned_and_moved_egg_is_found(seed):
    turn = Rotation.random(random_state=seed)
    shift = np.random.default_rng(seed).uniform(-500, 500, 3)
    axis = find_axis(moved(EGG, turn, shift))
    true = turn.apply([1.0, 0.0, 0.0])
    assert abs(axis.direction @ true) == pytest.approx(1.0, abs=1e-12)
    assert np.linalg.norm(np.cross(axis.origin - shift, true)) < 1e-9
    assert axis.direction[np.argmax(np.abs(axis.direction))] > 0
    along = axis.within(moved(EGG, turn, shift).vertices)[:, 0]
    assert along.min() == pytest.approx(0.0, abs=1e-9)
    assert along.max() == pytest.approx(56.0, abs=1e-9)
    assert codes(axis) == []


@pytest.mark.parametrize(
    ("length", "radius", "doubts"), [(60.0, 10.0, []), (4.0, 30.0, []), (2 * np.sqrt(1.5) * 10, 10.0, ["axis-unsure"])]
)
def test_the_axis_of_a_tube_by_its_closed_form(length, radius, doubts):
    """A thin tube's second moments are L^2/12 along and R^2/2 across: long, flat, and alike at L = R sqrt 6."""
    turn = Rotation.from_euler("xyz", [20, 30, 40], degrees=True)
    tube = bodies.revolved(np.linspace(-length / 2, length / 2, 9), np.full(9, radius), 90, caps=False)
    axis = find_axis(moved(tube, turn, [1.0, 2.0, 3.0]))
    assert codes(axis) == doubts
    if not doubts:
        assert abs(axis.direction @ turn.apply([1.0, 0.0, 0.0])) == pytest.approx(1.0, abs=1e-12)


def test_a_ball_and_a_slab_leave_doubt():
    assert codes(find_axis(bodies.spheroid(25.0, 25.0, 40, 48))) == ["axis-unsure"]
    assert codes(find_axis(bodies.spheroid(30.0, 22.0, 40, 48))) == []
    slab = bodies.spheroid(20.0, 20.0, 20, 24)
    assert codes(find_axis(Mesh(vertices=slab.vertices * [1.0, 2.0, 3.0], faces=slab.faces))) == ["axis-unsure"]


def test_uneven_triangles_do_not_pull_the_axis():
    half = bodies.revolved(np.linspace(-40, 0, 3), np.full(3, 10.0), 64, caps=False)
    fine = bodies.revolved(np.linspace(0, 40, 60), np.full(60, 10.0), 64, caps=False)
    both = Mesh(
        vertices=np.concatenate([half.vertices, fine.vertices]),
        faces=np.concatenate([half.faces, fine.faces + len(half.vertices)]),
    )
    axis = find_axis(both)
    np.testing.assert_allclose(axis.origin, 0.0, atol=1e-9)
    assert axis.x_zero_mm == pytest.approx(-40.0)


def test_a_side_cut_into_small_triangles_does_not_pull_the_axis():
    """The same surface: some facets are halved, four times over."""
    corners = EGG.vertices[EGG.faces]
    some = (corners.mean(axis=1)[:, 0] > 5) & (corners.mean(axis=1)[:, 1] > 0)
    small = corners[some]
    for _ in range(4):
        a, b, c = small[:, 0], small[:, 1], small[:, 2]
        small = np.concatenate([np.stack([a, b, (b + c) / 2], 1), np.stack([a, (b + c) / 2, c], 1)])
    both = np.concatenate([corners[~some], small])
    axis = find_axis(Mesh(vertices=both.reshape(-1, 3), faces=np.arange(3 * len(both)).reshape(-1, 3)))
    np.testing.assert_allclose(axis.direction, find_axis(EGG).direction, atol=1e-12)
    np.testing.assert_allclose(axis.origin, find_axis(EGG).origin, atol=1e-9)


def test_inches_become_millimetres():
    inch = find_axis(EGG, unit_mm=25.4)
    whole = find_axis(EGG.scaled(25.4))
    np.testing.assert_allclose(inch.origin, whole.origin, atol=1e-9)
    assert inch.x_zero_mm == pytest.approx(whole.x_zero_mm)


def test_theta_is_right_handed_about_x_and_zero_at_y():
    np.testing.assert_allclose(ALONG_X.frame, np.eye(3), atol=1e-15)
    points = np.array([[3.0, 0.0, 2.0], [5.0, 2.0, 0.0]])
    quarter = Axis(origin=np.zeros(3), direction=np.array([2.0, 0, 0]), angle_deg=90.0, x_zero_mm=1.0)
    np.testing.assert_allclose(quarter.within(points), [[2, 2, 0], [4, 0, -2]], atol=1e-14)


@given(st.floats(-40, 40), st.floats(-40, 40), st.floats(-180, 180), st.floats(-9, 9), st.floats(-9, 9))
@settings(derandomize=True, deadline=None, max_examples=30)
def test_handles_move_the_frame_as_they_say(about_y, about_z, angle, y, z):
    axis = Axis(origin=np.array([1.0, 2, 3]), direction=np.array([1.0, -2, 2]), angle_deg=angle)
    turned = axis.turned(about_y, about_z)
    expected = axis.frame.T @ Rotation.from_euler("yz", [about_y, 0], degrees=True).as_matrix()
    expected = expected @ Rotation.from_euler("z", about_z, degrees=True).as_matrix()
    np.testing.assert_allclose(turned.frame.T, expected, atol=1e-12)
    np.testing.assert_array_equal(turned.origin, axis.origin)
    shifted = axis.shifted(y, z)
    np.testing.assert_allclose(shifted.within(axis.origin[None]), [[0.0, -y, -z]], atol=1e-12)
    np.testing.assert_array_equal(shifted.frame, axis.frame)


def test_end_for_end_keeps_zero_and_runs_the_other_way():
    axis = Axis(origin=np.array([1.0, 2, 3]), direction=np.array([1.0, -2, 2]), angle_deg=33.0, x_zero_mm=4.0)
    points = np.random.default_rng(5).normal(size=(20, 3))
    there, back = axis.within(points), axis.end_for_end().within(points)
    np.testing.assert_allclose(back, there * [-1, 1, -1], atol=1e-12)


@pytest.mark.parametrize("direction", [[0, 0, 0], [1, 0], [np.nan, 0, 1], [np.inf, 0, 0]])
def test_a_direction_that_is_none_is_refused(direction):
    with pytest.raises(BlankError) as caught:
        Axis(origin=np.zeros(3), direction=np.array(direction, float))
    assert caught.value.where == "/axis"


def test_a_mesh_without_area_is_refused():
    flat = Mesh(vertices=np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]]), faces=np.array([[0, 1, 2]]))
    with pytest.raises(BlankError, match="no area"):
        find_axis(flat)


def test_vertices_that_no_face_names_move_nothing():
    stray = Mesh(vertices=np.concatenate([EGG.vertices, [[900.0, 0, 0]]]), faces=EGG.faces)
    axis = find_axis(stray)
    assert axis.x_zero_mm == find_axis(EGG).x_zero_mm
    np.testing.assert_array_equal(axis.origin, find_axis(EGG).origin)
    np.testing.assert_array_equal(stray.extent, EGG.extent)
