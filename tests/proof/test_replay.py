"""Words turned back into the tip's moves; how long a block lasts, by hand from NISTIR 6556 2.1.2.5 and 3.5.19."""

import numpy as np
import pytest
from scipy.integrate import quad

from engine.machine import Axis, FeedRule, Profile
from engine.proof.replay import replay, way_mm
from engine.proof.rs274_reader import read

# dX, dZ, dA, r, v, dS, T, F in G93, F in G94, F where the rotary counts as linear
FW = [
    (10, 0, 90, 25, 600, 40.52315002, 4.052315002, 14.80635142, 148.0635142, 1340.772146),
    (0, 0, 90, 25, 600, 39.26990817, 3.926990817, 15.27887454, 1375.098708, 1375.098708),
    (10, 0, 0, 25, 600, 10, 1.0, 60, 600, 600),
    (1, 0, 1, 180 / np.pi, 1, 1.414213562, 84.85281374, 0.7071067812, 0.7071067812, 1.0),
    (2, 0, 30, 10, 300, 5.604959213, 1.120991843, 53.52402910, 107.0480582, 1609.285186),
    (3, 0, -120, 22, 500, 46.17425223, 5.540910268, 10.82854569, 32.48563707, 1299.831490),
    (0.001, 0, 10, 25, 600, 4.363323245, 0.4363323245, 137.5098672, 0.1375098672, 1375.098679),
]
RULES = {FeedRule.INVERSE_TIME: ("G93", 7), FeedRule.LINEAR_AXES_ONLY: ("G94", 8), FeedRule.ALL_AXES: ("G94", 9)}


def told(text, machine=None, zero_r_mm=0.0):
    machine = machine or Profile()
    done = read((text + "\nM2\n").encode(), axes="".join(machine.letters))
    assert done.fault is None
    return replay(done, machine, zero_r_mm=zero_r_mm)


@pytest.mark.parametrize("rule", list(FeedRule))
@pytest.mark.parametrize("row", FW)
def test_worked_feed_numbers(row, rule):
    mode, column = RULES[rule]
    dx, _, da, r, v, way, seconds = row[:7]
    words = " ".join(f"{a}{d:.6f}" for a, d in (("X", dx), ("A", da)) if d)
    done = told(f"G21 G90 {mode}\nG0 X0 A0 Z{r:.10f}\nG1 {words} F{row[column]:.10f}", Profile(feed_rule=rule))
    assert done.way_mm[-1] == pytest.approx(way, rel=1e-9)
    assert done.seconds[-1] == pytest.approx(seconds, rel=1e-8)
    assert done.feed_mm_min()[-1] == pytest.approx(v, rel=1e-8)


@pytest.mark.parametrize(
    ("rule", "want"),
    [
        (FeedRule.LINEAR_AXES_ONLY, [0.72, 3.926989984, 4.052301707, 1.0, 2.504495957]),
        (FeedRule.ALL_AXES, [0.72, 3.926989984, 36.69515266, 1.0, 22.63895978]),
    ],
)
def test_elapsed_time_oracle(rule, want):
    body = "G1 Z-0.2 F100\nG1 A90 F1375.099\nG1 X10 A180 F148.064\nG1 X0 F600\nG1 X5 Z-0.5 A225 F120"
    done = told("G21 G90 G94\nG0 X0 Z1 A0\n" + body, Profile(feed_rule=rule), zero_r_mm=25.0)
    assert done.seconds[1:] == pytest.approx(want, rel=1e-9)


def test_a_rotary_word_in_mm_is_a_linear_axis_under_every_rule():
    machine = Profile(mm_per_turn=100.0, feed_rule=FeedRule.LINEAR_AXES_ONLY)
    done = told("G21 G90 G94\nG0 X0 A0 Z20\nG1 A25 F50\nG1 X3 A29 F5", machine)
    assert done.theta_rad[1] == pytest.approx(np.pi / 2)
    assert done.seconds[1:] == pytest.approx([30.0, 60.0])
    assert done.words[1, 1] == pytest.approx(90.0)


def test_reversed_axes_and_the_zero_are_undone():
    machine = Profile(axial=Axis(letter="X", reversed=True), rotary=Axis(letter="A", reversed=True))
    done = told("G21 G90 G94\nG0 X-5 A90 Z-0.5", machine, zero_r_mm=20.0)
    assert done.end[0] == pytest.approx([5.0, -np.pi / 2, 19.5])
    machine = Profile(radial=Axis(letter="Z", reversed=True))
    assert told("G21 G90 G94\nG0 X0 A0 Z0.5", machine, zero_r_mm=20.0).r_mm[0] == pytest.approx(19.5)


def test_kinds_come_from_the_moves_alone():
    done = told("G21 G90 G94\nG0 Z9\nG0 X1 A0\nG1 Z5 F10\nG1 X2 Z4\nG1 A9\nG1 Z9\nG0 X0")
    assert done.kind.tolist() == [3, 3, 1, 0, 0, 2, 3]


def speed(s, r, dx, dt, dr):
    return np.sqrt(dx**2 + dr**2 + ((r + s * dr) * dt) ** 2)


def test_the_way_of_the_tip_is_the_integral():  # scipy's quadrature
    rng = np.random.default_rng(3)
    start = np.stack([rng.uniform(0, 9, 40), rng.uniform(-1, 1, 40), rng.uniform(3, 30, 40)], axis=1)
    end = start + rng.uniform(-1, 1, (40, 3)) * [5, 1.5, 2]
    for a, b, got in zip(start, end, way_mm(start, end), strict=True):
        want = quad(speed, 0, 1, args=(a[2], *(b - a)))[0]
        assert got == pytest.approx(want, rel=2e-5)
    quarter = way_mm(np.array([[0.0, 0.0, 10.0]]), np.array([[0.0, np.pi / 2, 0.0]]))
    assert quarter[0] == pytest.approx(quad(speed, 0, 1, args=(10.0, 0.0, np.pi / 2, -10.0))[0], rel=1e-3)
