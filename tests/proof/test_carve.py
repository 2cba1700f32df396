"""The carving against closed forms, dense stamps, the seam, the moves' order."""

import math

import numpy as np
import pytest

from engine.blank import Cone, Cylinder, sample
from engine.kernel.values import Form, Tool
from engine.proof.carve import carve
from engine.proof.carve_field import Window, carve_window, uncut, window_of
from engine.proof.carve_pieces import Frame
from engine.proof.form import form_of
from engine.proof.normal_depth import depth_at


def cone(angle, tip, outer=3.175):
    return Tool(form=Form.CONE, angle_deg=angle, tip_mm=tip, diameter_mm=outer)


def ball(radius):
    return Tool(form=Form.BALL, diameter_mm=2 * radius)


def flat(width):
    return Tool(form=Form.FLAT, diameter_mm=width)


def bar(radius):
    return Cylinder(diameter_mm=2 * radius, length_mm=20)


def carved(skin, tool, moves, x=(9.0, 11.0), theta=(-0.1, 0.1), cell=0.01, radius=None, whole=False):
    """(x, theta, depth (nx, nt), radii (nx, nt)) of a window."""
    near = sample(skin, *skin.x_range_mm, 1e-6)
    radius = radius or float(skin.radius(np.array([x[1]]), np.zeros(1))[0])
    box = Window(x_mm=x, theta_rad=theta, radius_mm=radius, cell_mm=cell, whole=whole, note="")
    told, _ = carve_window(near, box, [(tool, np.array(moves, float))])
    radii = uncut(near, box)
    carve(radii, box.frame, form_of(tool), np.array(moves, float))
    return told.x_mm, told.theta_rad, told.depth_mm.astype(float), radii.astype(float)


def opening(u, depth):
    """Where the cut profile leaves the skin, its walls continued from the two cells inside."""
    k = np.flatnonzero(depth > 2e-4)
    a, b = k[0], k[-1]
    left = u[a] - (u[a + 1] - u[a]) * depth[a] / (depth[a + 1] - depth[a])
    right = u[b] + (u[b] - u[b - 1]) * depth[b] / (depth[b - 1] - depth[b])
    return right - left


@pytest.mark.parametrize(("r", "d", "angle", "chord"), [(10, 0.5, 90, 0.9761634199), (20, 0.3, 60, 0.3455484234)])
def test_a_groove_along_a_bar_opens_to_its_chord(r, d, angle, chord):
    _, theta, depth, radii = carved(bar(r), cone(angle, 0), [[5, 0, r - d, 15, 0, r - d]])
    row = len(depth) // 2
    assert 2 * r * math.sin(opening(theta, r - radii[row]) / 2) == pytest.approx(chord, abs=2e-3)
    # A sharp tip may pass half a cell beside the nearest ray.
    assert d - 0.005 / math.tan(math.radians(angle / 2)) - 1e-4 < depth.max() < d + 1e-5


@pytest.mark.parametrize(("angle", "d", "tip"), [(60, 0.3, 0.0), (30, 0.2, 0.1), (45, 0.25, 0.05)])
def test_a_groove_around_a_bar_is_as_wide_as_on_the_flat(angle, d, tip):
    x, _, depth, _ = carved(bar(12), cone(angle, tip), [[10, -1, 12 - d, 10, 1, 12 - d]])
    want = tip + 2 * d * math.tan(math.radians(angle) / 2)
    assert opening(x, depth[:, depth.shape[1] // 2]) == pytest.approx(want, abs=2e-3)


@pytest.mark.parametrize(("r", "w"), [(20, 2.0), (10, 1.0), (25, 3.0)])
def test_the_floor_under_a_flat_end_rises_to_its_corners(r, w):
    d = 0.2
    *_, radii = carved(bar(r), flat(w), [[5, 0, r - d, 15, 0, r - d]], theta=(-0.15, 0.15))
    line = radii[len(radii) // 2]
    corner = line[line < r - 1e-3].max()
    assert corner - (r - d) == pytest.approx(math.hypot(r - d, w / 2) - (r - d), abs=0.01 * w / r)


@pytest.mark.parametrize(("rw", "R", "s", "h"), [(10, 1.5, 0.3, 0.0086572879), (22, 0.5, 0.1, 0.0025636875)])
def test_cusps_between_passes_of_a_ball(rw, R, s, h):
    delta, n = s / rw, 16
    radii = np.full((5, 20 * n), rw + 0.02, np.float32)
    moves = np.array([[5, k * delta, rw, 15, k * delta, rw] for k in range(-12, 13)])
    carve(radii, Frame(9.9, 0.05, -10 * delta, delta / n, False), form_of(ball(R)), moves)
    assert radii[2, 5 * n : -5 * n].max() - rw == pytest.approx(h, abs=2e-6)


def test_a_ball_cuts_as_wide_as_its_chord():
    x, _, depth, _ = carved(bar(12), ball(0.5), [[10, -1, 11.9, 10, 1, 11.9]])
    assert opening(x, depth[:, depth.shape[1] // 2]) == pytest.approx(2 * math.sqrt(0.1 * 0.9), abs=0.01)


@pytest.mark.parametrize("slope_deg", [0.0, 20.0, 40.0])
def test_depth_is_measured_along_the_normal_of_a_slope(slope_deg):
    slope, R, d = math.tan(math.radians(slope_deg)), 1.5, 0.2
    skin = Cone(diameter_mm=30, end_diameter_mm=30 + 40 * slope, length_mm=20)
    up = R * (1 / math.cos(math.radians(slope_deg)) - 1) - d / math.cos(math.radians(slope_deg))
    moves = [[4, 0, 15 + 4 * slope + up, 16, 0, 15 + 16 * slope + up]]
    *_, depth, _ = carved(skin, ball(R), moves, x=(8.0, 12.0), theta=(-0.05, 0.05), cell=0.02, radius=20.0)
    assert depth[50:-50].max() == pytest.approx(d, abs=2e-4)


def stamps(frame, shape, skin_r, tool, moves, per_cell):
    """Plain stamps of the exact form, per_cell of them to a cell of travel: the ray against plane, sphere and cone."""
    x = frame.x0 + frame.dx * np.arange(shape[0])[:, None]
    theta = frame.th0 + frame.dth * np.arange(shape[1])[None, :]
    out = np.full(shape, skin_r)
    flat_mm, R, T, outer = tool.flat_mm, tool.round_mm, tool.flank, tool.outer_mm
    for move in moves:
        way = math.hypot((move[3] - move[0]) / frame.dx, (move[4] - move[1]) / frame.dth)
        for t in np.linspace(0, 1, max(2, int(way * per_cell))):
            px, pt, z = move[:3] + t * (move[3:] - move[:3])
            s, c, dx = np.sin(theta - pt), np.cos(theta - pt), x - px
            with np.errstate(invalid="ignore", divide="ignore"):
                if R > 0:
                    k = z + R
                    inside = R**2 - dx**2 - (k * s) ** 2
                    p = np.where(inside >= 0, c * k - np.sqrt(np.maximum(inside, 0)), np.inf)
                elif math.isfinite(T):
                    k, q = z - flat_mm * T, c * c - (T * s) ** 2
                    p = np.maximum(z / c, (c * k + T * np.sqrt(np.maximum((k * s) ** 2 + dx**2 * q, 0))) / q)
                    p = np.where((q > 1e-6) & (dx**2 + (p * s) ** 2 <= outer**2), p, np.inf)
                else:
                    p = np.where(dx**2 + (z / c * s) ** 2 <= outer**2, z / c + 0 * dx, np.inf)
            out = np.minimum(out, p)
    return out


@pytest.mark.parametrize(
    ("tool", "within"),
    [(cone(60, 0.1), 5e-4), (cone(140, 0.2), 3e-3), (ball(1.0), 1e-3), (cone(90, 0.4, 0.5), 2e-3), (flat(1.0), 5e-3)],
    ids=["cone", "blunt cone", "ball", "cone sunk to its shank", "flat"],
)
def test_the_sweep_is_no_shallower_than_dense_stamps_and_no_deeper(tool, within):
    r, frame, shape = 12.0, Frame(7.5, 0.05, -0.3, 0.004, False), (90, 150)
    moves = np.array(
        [
            [8.5, -0.1, r - 0.2, 10.0, 0.1, r - 0.3],  # aslant and in
            [9.0, -0.12, r - 0.15, 9.0, 0.12, r - 0.2],  # around
            [8.4, 0.05, r - 0.2, 10.4, 0.05, r - 0.1],  # along and out
            [9.5, 0.15, r + 0.1, 9.5, 0.15, r - 0.3],  # straight in
        ]
    )
    moves[:, ::3] += 0.0131  # no cell lies on the very rim, where a last digit decides
    moves[:, 1::3] += 0.00113
    got = np.full(shape, r, np.float32)
    carve(got, frame, form_of(tool), moves)
    want = stamps(frame, shape, r, tool, moves, 8)
    off = got - want
    assert off.max() <= within
    # Stamps leave crumbs between them: the sweep is deeper there, on the rims only.
    assert (off < -within).mean() < 4e-3


def random_moves(rng, n):
    ends = np.stack([rng.uniform(2, 18, n), rng.uniform(-3, 3, n), rng.uniform(11.6, 11.95, n)], axis=1)
    return np.concatenate([ends[:-1], ends[1:]], axis=1)


def test_the_order_of_the_moves_cannot_change_a_bit():
    rng = np.random.default_rng(1)
    moves = random_moves(rng, 120)
    frame = Frame(0, 0.1, -np.pi, 2 * np.pi / 1500, True)
    a, b = np.full((200, 1500), 12, np.float32), np.full((200, 1500), 12, np.float32)
    carve(a, frame, form_of(Tool()), moves)
    carve(b, frame, form_of(Tool()), moves[rng.permutation(len(moves))])
    assert np.array_equal(a, b)
    assert (a < 12).mean() > 0.05


def test_turned_moves_carve_the_turned_field_across_the_seam():
    moves = random_moves(np.random.default_rng(2), 120)
    nt, shift = 1500, 617
    frame = Frame(0, 0.1, -np.pi, 2 * np.pi / nt, True)
    a, b = np.full((200, nt), 12, np.float32), np.full((200, nt), 12, np.float32)
    carve(a, frame, form_of(Tool()), moves)
    turned = moves.copy()
    turned[:, [1, 4]] += shift * 2 * np.pi / nt + 6 * np.pi
    carve(b, frame, form_of(Tool()), turned)
    assert np.abs(np.roll(a, shift, axis=1) - b).max() < 4e-6
    window = np.full((200, 400), 12, np.float32)
    carve(window, Frame(0, 0.1, np.pi - 200 * frame.dth, frame.dth, False), form_of(Tool()), moves)
    assert np.abs(window - np.concatenate([a[:, -200:], a[:, :200]], axis=1)).max() < 4e-6


def test_round_and_round_at_one_place_is_once_round():
    frame = Frame(0, 0.1, -np.pi, 2 * np.pi / 400, True)
    once, often = np.full((100, 400), 12, np.float32), np.full((100, 400), 12, np.float32)
    carve(once, frame, form_of(Tool()), np.array([[5.0, 0.3, 11.8, 5.0, 0.3 + 2 * np.pi, 11.8]]))
    carve(often, frame, form_of(Tool()), np.array([[5.0, 0.3, 11.8, 5.0, 0.3 + 5e6 * np.pi, 11.8]]))
    assert np.abs(once - often).max() < 1e-5 and once.min() < 11.81


def test_points_are_as_deep_as_the_nearest_skin_is_far():
    skin = Cone(diameter_mm=30, end_diameter_mm=50, length_mm=20)
    near = sample(skin, 0.0, 20.0)
    r = skin.radius(np.array([10.0]), np.zeros(1))
    got = depth_at(near, np.array([10.0, 10.0]), np.zeros(2), np.array([r[0] - 0.5, r[0] + 0.5]))
    assert got == pytest.approx([0.5 * math.cos(math.atan(0.5)), 0.0], abs=1e-6)


@pytest.mark.parametrize(
    ("theta", "span", "whole"),
    [
        (np.array([3.0, -3.0]), (3.0, 2 * np.pi - 3.0), False),
        (np.linspace(0.1, 0.4, 50) + 4 * np.pi, (0.1, 0.4), False),
        (np.linspace(0, 2 * np.pi, 100), (-np.pi, np.pi), True),
    ],
    ids=["over the seam", "two turns on", "all round"],
)
def test_the_window_is_the_circle_without_its_widest_gap(theta, span, whole):
    box = window_of(bar(12), [Tool()], (5.0, 6.0), theta, reach_mm=0.2)
    assert box.whole is whole
    shift = 2 * np.pi * round((box.theta_rad[0] - span[0]) / (2 * np.pi))
    if not whole:
        assert box.theta_rad[0] - shift <= span[0] < span[1] <= box.theta_rad[1] - shift
        assert box.theta_rad[1] - box.theta_rad[0] < span[1] - span[0] + 0.15
    assert box.x_mm == pytest.approx((4.5, 6.5))


def test_a_window_at_a_blanks_end_stays_on_the_blank():
    for x in ((-3.0, 0.5), (19.9, 25.0), (30.0, 40.0)):
        box = window_of(bar(12), [Tool()], x, np.zeros(1), reach_mm=0.2)
        assert 0 <= box.x_mm[0] < box.x_mm[1] <= 20
