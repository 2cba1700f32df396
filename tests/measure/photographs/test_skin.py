"""Skins from exact outlines with modelled faults, against the analytic piece."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.measure.photographs import Lens, Setup, skin_from_edges
from engine.measure.photographs.holders import holders_of
from engine.measure.photographs.rays import edge_points
from tests.measure.photographs.outlines import BOTTLE, GOURD, SIZE_PX, Faults, edge_of, photographs


def setup_for(axis_px, **more):
    given = {"axis_from_px": tuple(axis_px[0]), "axis_to_px": tuple(axis_px[1]), "size_px": SIZE_PX, "length_mm": 110.0}
    return Setup(**{**given, "camera_mm": 300.0, **more})


@cache
def measured(count, faults, seed=0, piece=GOURD, **more):
    angles = np.arange(count) * 360.0 / count
    edges, axis_px = photographs(piece, angles, faults, seed)
    return skin_from_edges(edges, angles, setup_for(axis_px, **more))


def errors(skin, piece=GOURD):
    """Error and sigma away from the last 5 mm."""
    x, theta = np.meshgrid(skin.x_mm, skin.theta_rad, indexing="ij")
    inner = (skin.x_mm >= 5.0) & (skin.x_mm <= piece.length_mm - 5.0)
    return (skin.radius_mm - piece.radius(x, theta))[inner], skin.sigma_mm[inner]


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


def codes(skin):
    return {one.code for one in skin.findings}


PLAIN = Faults(noise_px=0.3)


def test_thirty_six_photographs_give_the_skin():
    skin = measured(36, PLAIN, axis_sigma_px=0.2)
    error, sigma = errors(skin)
    assert rms(error) < 0.02
    assert np.abs(error).max() < 0.1
    assert rms(error / sigma) < 2.0
    assert codes(skin) == set()
    assert skin.known[6:-6].all()


def test_one_photograph_of_a_body_of_revolution():
    skin = measured(1, PLAIN, piece=BOTTLE, axis_sigma_px=0.2)
    error, _ = errors(skin, BOTTLE)
    assert rms(error) < 0.03
    assert "round-assumed" in codes(skin)


def runout_error(skin, piece=GOURD):
    """By how much the skin's runout is off, mm, at its middle."""
    middle = len(skin.x_mm) // 2
    error = skin.radius_mm[middle] - piece.radius(skin.x_mm[middle], skin.theta_rad)
    return float(abs(2.0 * np.mean(error * np.exp(1j * skin.theta_rad))))


FAULTY = Faults(noise_px=0.3, angle_deg=0.5, wobble_mm=0.3, marks_px=1.5)


@pytest.mark.parametrize("seed", [2, 6])
def test_a_holder_that_is_seen_tells_a_camera_that_moved_from_a_piece_that_runs_out(seed):
    alone = measured(36, FAULTY, seed, axis_sigma_px=1.5)
    held = measured(36, replace(FAULTY, holder_mm=9.0), seed, axis_sigma_px=1.5)
    assert runout_error(held) < 0.05 < runout_error(alone)
    assert rms(errors(alone)[0]) < 0.2
    error, sigma = errors(held)
    assert rms(error) < 0.1
    assert 0.5 < rms(error / sigma) < 2.0
    assert rms(sigma) < 0.8 * rms(errors(alone)[1])


def test_a_holder_that_runs_out_is_told_and_does_not_lead_the_skin_astray():
    faults = replace(FAULTY, wobble_mm=0.1, holder_mm=9.0, runout_mm=0.3)
    skin = measured(36, faults, axis_sigma_px=1.5)
    assert codes(skin) >= {"holder-runs-out"}
    assert {one.where.pointer for one in skin.findings} == {"/axis/from_px", "/axis/to_px"}
    assert runout_error(skin) < 0.05


def test_a_piece_that_goes_on_beyond_the_marks_is_taken_for_no_holder():
    angles = np.arange(12) * 30.0
    edges, (start, end) = photographs(GOURD, angles, PLAIN)
    inner = (start + (end - start) * 12.0 / 110.0, start + (end - start) * 98.0 / 110.0)
    setup = setup_for(inner, length_mm=86.0)
    assert not holders_of(edges, edge_points(edges, angles, setup, step_mm=0.8), setup).seen


def test_perspective_that_is_not_told_fails_and_is_noticed():
    skin = measured(18, PLAIN, camera_mm=None)
    assert rms(errors(skin)[0]) > 0.1
    assert {"photos-disagree", "camera-far-assumed"} <= codes(skin)
    assert "angles-otherwise" not in codes(skin)


def test_a_lens_told_by_a_card_straightens_the_edges():
    skin = measured(18, Faults(noise_px=0.3, k1=-0.08), axis_sigma_px=0.2, lens=Lens(k1=-0.08, k1_sigma=1e-4))
    assert rms(errors(skin)[0]) < 0.02


def test_part_of_a_turn_without_an_outline_is_told_and_not_known():
    angles = np.arange(5) * 20.0
    edges, axis_px = photographs(GOURD, angles, PLAIN)
    skin = skin_from_edges(edges, angles, setup_for(axis_px))
    assert "turn-not-covered" in codes(skin)
    assert 0.2 < 1.0 - skin.known[55].mean() < 0.8


@pytest.mark.parametrize(
    ("count", "size", "angles", "where"),
    [
        (2, SIZE_PX, [0.0], "/photos"),
        (2, (3000, 4000), [0.0, 10.0], "/photos/0"),
        (2, SIZE_PX, [0.0, np.nan], "/photos/1/angle_deg"),
        (0, SIZE_PX, [], "/photos"),
    ],
)
def test_photographs_that_cannot_be_used_are_refused(count, size, angles, where):
    edges = [edge_of(np.full((100, 2), 1500.0), size) for _ in range(count)]
    with pytest.raises(BlankError) as told:
        skin_from_edges(edges, angles, setup_for([[350.0, 1500.0], [3650.0, 1500.0]]))
    assert told.value.where == where
    assert told.value.hint


def test_marks_in_a_photograph_that_is_not_there_are_refused_at_the_documents_own_field():
    setup = replace(setup_for([[350.0, 1500.0], [3650.0, 1500.0]]), axis_photo=2)
    with pytest.raises(BlankError) as told:
        skin_from_edges([edge_of(np.full((100, 2), 1500.0), SIZE_PX)] * 2, [0.0, 10.0], setup)
    assert told.value.where == "/axis_photo"


@pytest.mark.parametrize(
    ("axis_px", "where"),
    [([[350.0, 1500.0], [360.0, 1500.0]], "/axis/to_px"), ([[350.0, 1500.0], [5000.0, 1500.0]], "/axis/to_px")],
)
def test_marks_that_are_no_axis_are_refused(axis_px, where):
    with pytest.raises(BlankError) as told:
        setup_for(axis_px)
    assert told.value.where == where
