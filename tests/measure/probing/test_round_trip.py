"""Program, controller and log together: a ball that is laid on a known skin in closed form, and the skin read back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.machine import ZZero
from engine.measure.probing import read_log, tip_corrected
from engine.program import Guess, Order, Probe, probe_program
from tests.measure.probing.balls import SKINS
from tests.measure.probing.logs import FORMS, written
from tests.program.controller import run
from tests.program.paths import on_blank
from tests.program.test_probing import machines


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    st.sampled_from(SKINS),
    machines(),
    st.sampled_from(list(FORMS)),
    st.sampled_from([0.5, 1.0, 2.5]),
    st.booleans(),
    st.sampled_from(["mm", "inch"]),
    st.integers(0, 2**32 - 1),
)
def test_what_a_controller_logs_is_read_back_as_the_skin_that_was_touched(skin, profile, form, ball, twice, unit, seed):
    x, theta = np.linspace(0, 100, 101)[:, None], np.arange(72) * 2 * np.pi / 72
    with np.errstate(invalid="ignore"):
        table = np.nan_to_num(skin.radius_at(np.clip(x, 2, 98), theta))
    told = probe_program(
        np.linspace(12, 65, 5),
        np.arange(6) * 60.0 + 7.5,
        guess=Guess(x_mm=x.ravel(), radius_mm=table, doubt_mm=1.0),
        probe=Probe(tip_radius_mm=ball, slow_mm_min=20.0 if twice else None),
        profile=profile,
        order=Order.ANGLE_BY_ANGLE if seed % 2 else Order.STATION_BY_STATION,
    )
    zero, radial = told.zero_r_mm, profile.radial
    assert (zero == 0.0) == (profile.z_zero is ZZero.AXIS)

    def trips(place):
        at, angle, _ = on_blank(place, profile, zero)
        word = skin.centre(at, np.radians(angle), ball) - ball - zero
        return -word if radial.reversed else word

    ran = run(told.program.text, profile.letters, trips)
    assert all(found for _, found in ran.touches)
    data = written(form, ran.touches, profile, unit=unit, seed=seed)
    log = read_log(
        data,
        profile=profile,
        tip_radius_mm=ball,
        unit=unit,
        points=(told.x_mm, told.angle_deg),
        touches=told.touches,
        zero_r_mm=zero,
    )
    round_mm = 0.51e-4 * (25.4 if unit == "inch" else 1.0)
    turn = (180 / profile.mm_per_turn) * 2 if profile.mm_per_turn else 1.0
    assert np.abs(log.centres.x_mm - told.x_mm).max() <= round_mm
    assert np.degrees(log.centres.theta_rad) == pytest.approx(told.angle_deg, abs=round_mm * turn + 1e-9)
    truth = [skin.centre(a, np.radians(b), ball) for a, b in zip(told.x_mm, told.angle_deg, strict=True)]
    assert np.abs(log.centres.radius_mm - truth).max() <= round_mm
    touched = tip_corrected(log.centres, skin.slopes, tip_radius_mm=ball)
    leaning = 1.0 + np.hypot(*(np.asarray(s).max() for s in map(np.abs, skin.slopes(touched.x_mm, touched.theta_rad))))
    off = touched.radius_mm - skin.radius_at(touched.x_mm, touched.theta_rad)
    assert np.abs(off).max() <= 3 * round_mm * leaning * max(turn, 1.0)
    assert log.point.tolist() == list(range(len(told.x_mm))) and not len(log.missing)
