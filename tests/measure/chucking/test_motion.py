"""Rigid motions: against an independent rotation library, and the laws of a group."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from engine.measure.chucking import Motion

POINTS = np.array([[0.0, 0, 0], [10.0, 3, -4], [-7.0, 20, 5], [60.0, -25, 11]])

small = st.floats(-3.0, 3.0)
motions = st.builds(
    Motion,
    shift_mm=st.floats(-50, 50),
    turn_rad=small,
    tilt_y_rad=st.floats(-2.0, 2.0),
    tilt_z_rad=st.floats(-2.0, 2.0),
    offset_y_mm=small,
    offset_z_mm=small,
    pivot_mm=st.floats(-100, 100),
)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(motions)
def test_a_motion_is_a_turn_about_x_then_a_tilt_about_its_vector(motion):
    turn = Rotation.from_rotvec([motion.turn_rad, 0, 0])  # scipy's rotations, written by others
    tilt = Rotation.from_rotvec([0, motion.tilt_y_rad, motion.tilt_z_rad])
    pivot = np.array([motion.pivot_mm, 0, 0])
    to = pivot + [motion.shift_mm, motion.offset_y_mm, motion.offset_z_mm]
    assert motion.moved(POINTS) == pytest.approx(to + (tilt * turn).apply(POINTS - pivot), abs=1e-12 * 1e3)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(motions, motions)
def test_motions_compose_and_undo(first, second):
    both = first.then(second)
    assert both.moved(POINTS) == pytest.approx(second.moved(first.moved(POINTS)), abs=1e-11)
    assert first.back(first.moved(POINTS)) == pytest.approx(POINTS, abs=1e-11)
    assert first.inverse().moved(first.moved(POINTS)) == pytest.approx(POINTS, abs=1e-11)
    assert first.about(17.0).moved(POINTS) == pytest.approx(first.moved(POINTS), abs=1e-11)
    assert first.about(17.0).pivot_mm == 17.0


@settings(derandomize=True, deadline=None, max_examples=60)
@given(motions)
def test_a_motion_told_by_its_matrix_has_the_same_numbers(motion):
    again = Motion.of(motion.rotation, motion.translation, motion.pivot_mm)
    for name in ("shift_mm", "turn_rad", "tilt_y_rad", "tilt_z_rad", "offset_y_mm", "offset_z_mm"):
        assert getattr(again, name) == pytest.approx(getattr(motion, name), abs=1e-9)


def test_end_for_end_twice_is_no_motion():
    flip = Motion.end_for_end(120.0, 0.7)
    spot = np.array([30.0, 20 * np.cos(0.2), 20 * np.sin(0.2)])
    assert flip.moved(spot) == pytest.approx([90.0, 20 * np.cos(0.5), 20 * np.sin(0.5)], abs=1e-12)
    assert flip.then(flip).moved(POINTS) == pytest.approx(POINTS, abs=1e-12)
    none = flip.then(flip)
    assert (none.shift_mm, none.turn_rad, none.lean_rad) == pytest.approx((0, 0, 0), abs=1e-12)


def test_a_lean_is_the_angle_between_the_axes():
    assert Motion(tilt_y_rad=0.03, tilt_z_rad=-0.04).lean_rad == pytest.approx(0.05)
    assert Motion(tilt_y_rad=0.3, tilt_z_rad=-0.4).rotation[0, 0] == pytest.approx(np.cos(0.5))
