"""Look-ahead against constant-acceleration kinematics (textbook; computed by hand), plain loops, and a
simulator in small ticks of time that shares no formula with it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import ProgramError
from engine.kernel.values import Path
from engine.machine import Limits, Profile, corner_speed, limits_of, look_ahead, path_motion
from tests.machine.simulator import simulate


def one(d, v, a, **more):
    lim = Limits(speed=(v, 60.0, 10.0), accel=(a, 720.0, 100.0))
    return look_ahead(np.array([[0, 0, 5.0], [d, 0, 5.0]]), np.full(2, 5.0), np.array([np.nan]), lim)


def test_the_sheets_trapezoids():
    for d, v, a, wanted in (
        (100, 50, 200, 2.25),
        (5, 50, 200, 0.316227766017),
        (12.5, 50, 200, 0.5),
        (0.1, 25, 500, 0.0282842712475),
    ):
        assert one(d, v, a).seconds.sum() == pytest.approx(wanted, rel=1e-11)
    assert one(5, 50, 200).peak[0] == pytest.approx(31.6227766017, rel=1e-11)
    turn = look_ahead(
        np.array([[0, 0, 0], [0, 90, 0.0]]),
        np.full(2, 25.0),
        np.array([np.nan]),
        Limits(speed=(25, 60, 10), accel=(200, 720, 100)),
    )
    assert turn.seconds.sum() == pytest.approx(1.58333333333, rel=1e-11)


def test_the_sheets_moves_between_speeds():
    """The move in the middle enters at 10 and leaves at 20 because its neighbours are asked so slow."""
    for d, wanted in ((50, 1.125), (1, 0.0621320343559)):
        p = np.array([[0, 0, 5], [10, 0, 5], [10 + d, 0, 5], [30 + d, 0, 5.0]])
        m = look_ahead(
            p, np.full(4, 5.0), np.array([1.0, np.nan, 1.0]), Limits(speed=(50, 60, 10), accel=(200, 720, 100))
        )
        assert (m.enter[1], m.leave[1]) == pytest.approx((10, 20), rel=1e-12)
        assert m.seconds[1] == pytest.approx(wanted, rel=1e-11)


def test_the_sheets_corners():
    for deg, v500, v200 in (
        (30, 1.8686845272, 0.8357011263),
        (60, 3.1622776602, 1.4142135624),
        (90, 4.9134647270, 2.1973682269),
        (120, 8.0399636909, 3.5955810699),
        (135, 11.0168376518, 4.9268795773),
        (150, 16.8367871848, 7.5296401336),
        (170, 51.1655390032, 22.8819246633),
    ):
        c = np.cos(np.pi - np.radians(deg))
        assert corner_speed(500.0, c, 0.02) == pytest.approx(v500, rel=1e-9)
        assert corner_speed(200.0, c, 0.01) == pytest.approx(v200, rel=1e-9)
        t = np.radians(90 - deg / 2)  # the corner as a path: the bend is along x, so x pulls
        leg = 40 * np.array([[np.sin(t), np.cos(t)], [-np.sin(t), np.cos(t)]])
        p = np.array([[0, 0, 5], [leg[0, 0], 0, 5 + leg[0, 1]], [leg[:, 0].sum(), 0, 5 + leg[:, 1].sum()]])
        m = look_ahead(
            p, np.full(3, 5.0), np.full(2, np.nan), Limits(speed=(400, 60, 400), accel=(500, 720, 5000), corner_mm=0.02)
        )
        assert m.leave[0] == pytest.approx(min(v500, m.peak.min()), rel=1e-9)
    assert corner_speed(500.0, -1.0, 0.02) == 0.0
    assert np.isinf(corner_speed(5.0, 1.0, 0.1))


def test_constant_speed_rows():
    """Rotary limit 3600 deg/min: 314.159 mm/min at r 5."""
    for r, wanted in ((5, 314.159265359), (25, 1570.79632679)):
        m = look_ahead(np.array([[0, 0, 0], [0, 3600, 0.0]]), np.full(2, float(r)), np.array([1e-3]), Limits())
        assert m.peak[0] * 60 == pytest.approx(wanted, rel=1e-11)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.integers(0, 10**6))
def test_no_axis_beyond_its_limits_and_the_profile_is_tight(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 60))
    p = np.cumsum(rng.normal(0, [1, 20, 0.3], (n + 1, 3)) * 10.0 ** rng.uniform(-3, 0.5, (n + 1, 1)), 0) + [0, 0, 30]
    r = np.maximum(p[:, 2], 1)
    lim = Limits()
    m = look_ahead(p, r, np.where(rng.random(n) < 0.3, np.nan, rng.uniform(0.001, 2, n)), lim)
    share = np.abs(np.diff(p, axis=0)) / m.length_mm[:, None]
    assert (share * m.peak[:, None] <= np.array(lim.speed) * (1 + 1e-9)).all()
    assert (share * m.accel[:, None] <= np.array(lim.accel) * (1 + 1e-9)).all()
    assert np.allclose(m.enter[1:], m.leave[:-1]) and m.enter[0] == m.leave[-1] == 0
    gain = 2 * m.accel * m.length_mm
    assert (np.abs(m.enter**2 - m.leave**2) <= gain * (1 + 1e-6) + 1e-7).all()
    ramps = (2 * m.peak - m.enter - m.leave) / m.accel
    assert (m.seconds >= ramps - 1e-12).all()


def test_equal_to_loops():
    rng = np.random.default_rng(4)
    n = 20000
    cap = rng.uniform(0, 900, n + 1)
    cap[[0, -1]] = 0
    gain = rng.uniform(0, 60, n)
    w = cap.copy()
    for k in range(n):
        w[k + 1] = min(w[k + 1], w[k] + gain[k])
    for k in range(n - 1, -1, -1):
        w[k] = min(w[k], w[k + 1] + gain[k])
    S = np.concatenate([[0], np.cumsum(gain)])
    q = np.minimum.accumulate(cap - S) + S
    left = S[-1] - S
    q = np.minimum.accumulate((q - left)[::-1])[::-1] + left
    assert np.abs(q - w).max() < 1e-9


@settings(max_examples=5, derandomize=True, deadline=None)
@given(st.integers(0, 10**6))
def test_within_one_percent_of_the_simulator(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(3, 14))
    p = np.cumsum(rng.normal(0, [2, 15, 0.3], (n + 1, 3)), 0) + [0, 0, 25]
    r = p[:, 2]
    asked = np.where(rng.random(n) < 0.3, np.nan, rng.uniform(0.05, 1, n))
    lim = Limits(corner_mm=float(rng.choice([0.0, 0.01, 0.05])))
    got = look_ahead(p, r, asked, lim).seconds
    true = simulate(p, r, asked, lim.speed, lim.accel, lim.corner_mm)
    assert got.sum() == pytest.approx(true.sum(), rel=0.01)


def test_a_path_runs_at_the_asked_feed_and_its_parts_add_up():
    s = np.linspace(0, 1, 30)
    path = Path(
        x_mm=40 * s,
        theta_rad=2 * s,
        r_mm=np.full(30, 20.0),
        kind=[3] + [0] * 29,
        stroke=np.ones(30),
        feed_mm_min=np.full(30, 300.0),
    )
    m = path_motion(path, limits_of(Profile()))
    assert np.allclose(m.length_mm[3:-3] / m.seconds[3:-3] * 60, 300, rtol=0.01)
    parts = m.split(path.kind[1:])
    assert parts["cutting"] == pytest.approx(m.seconds.sum()) and parts["travel"] == 0


def test_arrays_that_do_not_fit_are_refused():
    with pytest.raises(ProgramError, match="places"):
        look_ahead(np.zeros((3, 3)), np.zeros(3), np.zeros(3), Limits())
