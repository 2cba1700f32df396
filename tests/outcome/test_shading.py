"""The carved skin is as bright as Lambert says under one lamp, and the lamp stands where drawings have it."""

import numpy as np
import pytest

from engine.outcome.shading import AMBIENT, LAMP, light_on, once_round, shades

NX, NT = 90, 120
DX_MM = 0.05
RADIUS_MM = np.linspace(18.0, 31.0, NX)  # a cone: each row has its own circle
STEP_RAD = 0.0021
AROUND_MM = STEP_RAD * RADIUS_MM
LAID = {"dx_mm": DX_MM, "around_mm": AROUND_MM}


def lambert(slope, azimuth_deg):
    """n . L over what the flat gets, by angles alone: the hillshade formula of maps (from memory; gdaldem's form).

    slope : rise over run of a wall that looks towards azimuth_deg, clockwise from up.
    """
    zenith, tilt = np.radians(45.0), np.arctan(slope)
    turn = np.radians(315.0 - azimuth_deg)
    lit = np.cos(zenith) * np.cos(tilt) + np.sin(zenith) * np.sin(tilt) * np.cos(turn)
    return np.maximum(0.0, lit) / np.cos(zenith)


def bumps(seed=3):
    """A field of waves that closes the circle, partly uncut."""
    rng = np.random.default_rng(seed)
    x, t = np.linspace(0, 1, NX)[:, None], np.linspace(0, 2 * np.pi, NT, endpoint=False)[None, :]
    waves = [np.sin(k * t + 9 * x * a + b) for k, (a, b) in enumerate(rng.random((5, 2)) * 6)]
    return np.maximum(0.0, 0.03 * np.sum(waves, axis=0))


@pytest.mark.parametrize("slope", [0.2, 0.6, 1.0, 2.5])
def test_walls_of_a_groove_are_lit_as_lambert_says(slope):
    """A V along x, as steep on each row as that row's own circle makes it, and a V around."""
    across = np.abs(np.arange(NT) - NT // 2) * AROUND_MM[0] * np.ones((NX, 1))
    along = np.abs(np.arange(NX) - NX // 2)[:, None] * DX_MM * np.ones(NT)
    on_row = slope * (RADIUS_MM[0] / RADIUS_MM[5:-5])[:, None]
    walls = [  # the wall at the left looks right, the lower one up
        (across, (slice(5, -5), slice(NT // 2 - 12, NT // 2 - 1)), on_row, 90.0),
        (across, (slice(5, -5), slice(NT // 2 + 2, NT // 2 + 12)), on_row, 270.0),
        (along, (slice(NX // 2 - 12, NX // 2 - 1), slice(5, -5)), slope, 0.0),
        (along, (slice(NX // 2 + 2, NX // 2 + 12), slice(5, -5)), slope, 180.0),
    ]
    for off, wall, steep, azimuth_deg in walls:
        light = light_on(np.maximum(0.0, slope * (1.2 - off)), **LAID, whole=False)[wall]
        np.testing.assert_allclose(
            light, np.broadcast_to(lambert(steep, azimuth_deg), light.shape), rtol=0.02, atol=1e-4
        )


def test_brightness_is_light_and_ambient_on_a_ground_that_darkens_with_depth():
    """One wall, steep enough that the lamp does not reach it, and the flat floor beneath: both by the stated shares."""
    depth = np.zeros((NX, NT))
    depth[:, 40:60] = np.arange(20) * AROUND_MM[:, None] * 3.0
    depth[:, 60:90] = 20 * AROUND_MM[:, None] * 3.0
    around = np.full(NX, AROUND_MM.mean())
    depth[:] = depth[NX // 2]
    seen = shades(depth, dx_mm=DX_MM, around_mm=around, whole=False) / 255.0
    floor, wall = seen[:, 65:85], seen[:, 57]
    assert np.ptp(floor) == 0 and np.ptp(wall) == 0
    assert wall[0] < AMBIENT < floor[0, 0] < 1.0
    light = light_on(depth, dx_mm=DX_MM, around_mm=around, whole=False)
    assert (light[:, 45:58] == 0.0).all() and (light[:, 65:85] == 1.0).all()
    grounds = seen[:, 45:58] / AMBIENT  # in full shadow what is left is the ground alone
    assert (np.diff(grounds, axis=1) < 0).all() and grounds.max() < 0.9


def test_what_is_not_cut_is_exactly_paper_and_what_is_cut_is_darker():
    depth = bumps()
    seen = shades(depth, **LAID, whole=True)
    assert (seen[depth == 0.0] == 255).all()
    assert (seen[depth > 0.01] < 250).all()
    assert (shades(np.zeros((NX, NT)), **LAID, whole=True) == 255).all()
    shallow = shades(depth * 0.05, **LAID, whole=True)  # a mark of a few microns still reads
    assert shallow[depth > 0.01].mean() < 235


def test_a_mirrored_field_under_a_mirrored_lamp_is_the_mirrored_picture(monkeypatch):
    depth = bumps()
    for flip, lamp, around in (
        (np.fliplr, (-LAMP[0], LAMP[1], LAMP[2]), AROUND_MM),
        (np.flipud, (LAMP[0], -LAMP[1], LAMP[2]), AROUND_MM[::-1]),
    ):
        straight = shades(depth, **LAID, whole=True)
        with monkeypatch.context() as patch:
            patch.setattr("engine.outcome.shading.LAMP", lamp)
            mirrored = shades(flip(depth), dx_mm=DX_MM, around_mm=around, whole=True)
        assert np.abs(flip(mirrored).astype(int) - straight).max() <= 1


def test_a_field_that_goes_once_round_has_no_seam():
    depth = bumps()
    straight = shades(depth, **LAID, whole=True)
    for by in (1, 37):
        turned = shades(np.roll(depth, by, axis=1), **LAID, whole=True)
        np.testing.assert_array_equal(np.roll(turned, -by, axis=1), straight)


def test_once_round_is_told_from_a_window():
    circle = np.linspace(-np.pi, np.pi, 1464, endpoint=False)
    assert once_round(circle) and once_round(circle[:-1])
    assert not once_round(circle[:-200])


def test_the_same_field_gives_the_same_bytes_and_is_left_alone():
    depth = bumps().astype(np.float32)
    kept = depth.copy()
    assert shades(depth, **LAID, whole=True).tobytes() == shades(depth, **LAID, whole=True).tobytes()
    np.testing.assert_array_equal(depth, kept)
