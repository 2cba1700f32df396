"""What photographs are told to be wrong in, and where: one fault each."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.measure.photographs import skin_from_edges
from engine.measure.photographs.rays import edge_points
from engine.measure.photographs.search import angles_read_otherwise
from tests.measure.photographs import outlines
from tests.measure.photographs.outlines import GOURD, Faults, Piece, edge_of, photographs
from tests.measure.photographs.test_skin import PLAIN, codes, errors, rms, setup_for

ANGLES = np.arange(12) * 30.0


def pointers(skin, code):
    return [one.where.pointer for one in skin.findings if one.code == code]


@pytest.mark.parametrize(("told", "found"), [(1.0, 1.0), (-1.0, -1.0), (0.5, 2.0)])
def test_angles_of_another_sense_or_step_are_recognised(told, found):
    angles = np.arange(18) * 20.0
    edges, axis_px = photographs(GOURD, angles, PLAIN)
    setup = setup_for(axis_px)
    points = edge_points(edges, told * angles, setup, step_mm=0.8)
    assert angles_read_otherwise(edges, points, setup) == found


def test_a_rotary_that_turned_the_other_way_is_an_error_of_the_photographs():
    edges, axis_px = photographs(GOURD, ANGLES, PLAIN)
    skin = skin_from_edges(edges, -ANGLES, setup_for(axis_px))
    assert pointers(skin, "angles-otherwise") == ["/photos"]
    assert any("other way" in one.message for one in skin.findings)


@pytest.mark.parametrize(("told_mm", "side"), [(200.0, "farther"), (450.0, "nearer")])
def test_a_camera_that_stands_elsewhere_than_told_is_found_and_said(told_mm, side):
    edges, axis_px = photographs(GOURD, np.arange(18) * 20.0, PLAIN)
    skin = skin_from_edges(edges, np.arange(18) * 20.0, setup_for(axis_px, camera_mm=told_mm))
    assert pointers(skin, "camera-distance") == ["/camera_mm"]
    assert any(f"% {side} than told" in one.message for one in skin.findings)


def test_a_line_marked_beside_the_axis_is_moved_and_said():
    edges, axis_px = photographs(GOURD, ANGLES, PLAIN)
    skin = skin_from_edges(edges, ANGLES, setup_for(axis_px + [[0.0, 12.0], [0.0, 12.0]]))
    assert pointers(skin, "axis-moved") == ["/axis"]
    assert rms(errors(skin)[0]) < 0.03
    assert "few-photographs" not in codes(skin)


@pytest.mark.parametrize(("wobble_mm", "off_deg", "code"), [(0.0, 25.0, "photo-disagrees"), (0.1, 5.0, "angles-moved")])
def test_a_photograph_at_another_angle_than_told_is_named(wobble_mm, off_deg, code):
    angles = np.arange(18) * 20.0
    edges, axis_px = photographs(GOURD, angles + off_deg * (np.arange(18) == 7), replace(PLAIN, wobble_mm=wobble_mm))
    skin = skin_from_edges(edges, angles, setup_for(axis_px))
    assert pointers(skin, code) == ["/photos/7"]
    assert rms(errors(skin)[0]) < 0.15
    assert "flat-or-hollow" not in codes(skin)


@pytest.mark.parametrize(("wobble_mm", "code"), [(0.0, "photo-disagrees"), (0.1, "camera-moved")])
def test_a_photograph_from_another_place_is_named(wobble_mm, code):
    angles = np.arange(18) * 20.0
    edges, axis_px = photographs(GOURD, angles, replace(PLAIN, wobble_mm=wobble_mm))
    rng = np.random.default_rng(1)
    edges[4] = outlines.outline(GOURD, math.radians(angles[4]), PLAIN, np.array([0.0, 2.5, 0.0]), rng)
    skin = skin_from_edges(edges, angles, setup_for(axis_px))
    assert pointers(skin, code) == ["/photos/4"]
    error, sigma = errors(skin)
    assert rms(error / sigma) < 2.0


def test_a_piece_that_slipped_half_way_is_told_from_which_photograph():
    angles = np.arange(18) * 20.0
    edges, axis_px = photographs(GOURD, angles, PLAIN)
    rng = np.random.default_rng(1)
    for k in range(10, 18):
        edges[k] = outlines.outline(GOURD, math.radians(angles[k]), PLAIN, np.array([1.0, 0.0, 0.0]), rng)
    skin = skin_from_edges(edges, angles, setup_for(axis_px))
    assert pointers(skin, "slipped") == ["/photos/10"]


def test_a_stand_that_sways_is_no_slip():
    angles = np.arange(18) * 20.0
    edges, axis_px = photographs(GOURD, angles, replace(PLAIN, wobble_mm=0.3, angle_deg=0.5))
    assert "slipped" not in codes(skin_from_edges(edges, angles, setup_for(axis_px)))


def test_outlines_in_part_wrong_are_told_as_outliers():
    angles = np.arange(18) * 20.0
    edges, axis_px = photographs(GOURD, angles, PLAIN)
    rng = np.random.default_rng(2)
    smeared = []
    for edge in edges:
        points = np.array(edge.points_px)
        for start in rng.integers(0, len(points) - 30, 3):
            away = points[start : start + 30] - points.mean(axis=0)
            points[start : start + 30] += 40.0 * away / np.hypot(*away.T)[:, None]
        smeared.append(edge_of(points))
    skin = skin_from_edges(smeared, angles, setup_for(axis_px))
    assert pointers(skin, "edge-outliers") == ["/photos"]
    error, sigma = errors(skin)
    assert rms(error / sigma) < 2.0


def test_a_flat_is_told_where_it_lies_and_its_edges_are_not_known():
    def flat(x, t):
        off = np.arctan2(np.sin(t - 1.0), np.cos(t - 1.0))
        return np.where(np.abs(off) < math.acos(26.0 / 30.0), 26.0 / np.cos(off), 30.0) + 0.0 * x

    piece = Piece(radius=flat, length_mm=110.0)
    angles = np.arange(24) * 15.0
    edges, axis_px = photographs(piece, angles, Faults(noise_px=0.1))
    skin = skin_from_edges(edges, angles, setup_for(axis_px))
    places = [one.where for one in skin.findings if one.code == "flat-or-hollow"]
    assert places
    assert all(abs(one.angle_deg - math.degrees(1.0)) < 6.0 for one in places)
    off = np.abs(np.angle(np.exp(1j * (skin.theta_rad - 1.0))))
    error = np.abs(skin.radius_mm - piece.radius(skin.x_mm[:, None], skin.theta_rad))
    assert error[10:-10].max() > 0.5
    assert (error / skin.sigma_mm)[10:-10][skin.known[10:-10]].max() < 3.0
    assert skin.known[10:-10, off > 1.6].all()


def test_few_photographs_are_told_with_how_many_to_take():
    edges, axis_px = photographs(GOURD, ANGLES[::2], PLAIN)
    skin = skin_from_edges(edges, ANGLES[::2], setup_for(axis_px))
    (told,) = (one for one in skin.findings if one.code == "few-photographs")
    assert told.message.startswith("6 photographs") and "take 12 or more" in told.advice
    assert told.where.pointer == "/photos"


def test_marks_of_one_photograph_are_taken_as_that_cameras():
    faults = replace(PLAIN, wobble_mm=0.5)
    angles = np.arange(18) * 20.0
    edges, _ = photographs(GOURD, angles, faults, seed=3)
    rng = np.random.default_rng(3)  # drawn as `photographs` draws: the angles' errors, then where the camera stood
    rng.standard_normal(18)
    stood = 0.5 * rng.standard_normal((18, 3))[6]
    seen_px = outlines.axis_px(GOURD, faults, stood)
    own = skin_from_edges(edges, angles, setup_for(seen_px, axis_photo=6, wobble_sigma_mm=0.5))
    shared = skin_from_edges(edges, angles, setup_for(seen_px, wobble_sigma_mm=0.5))
    assert rms(errors(own)[0]) < 0.5 * rms(errors(shared)[0])


def test_a_piece_that_closes_at_both_poles_is_measured_to_them():
    def egg(x, t):
        u = (x - 55.0) / 55.0
        shape = 36.5 / (1.0 + 0.16 * u) * (1.0 + 0.028 * np.cos(2 * (t - 0.3)))
        return np.sqrt(np.maximum(1.0 - u * u, 1e-9)) * shape

    piece = Piece(radius=egg, length_mm=110.0)
    edges, axis_px = photographs(piece, ANGLES, Faults(noise_px=0.1))
    skin = skin_from_edges(edges, ANGLES, setup_for(axis_px, axis_sigma_px=0.2))
    error, sigma = errors(skin, piece)
    assert rms(error) < 0.03
    assert rms(error / sigma) < 2.0
    assert skin.radius_mm[0].max() < 3.0
    assert skin.radius_mm[-1].max() < 3.0
