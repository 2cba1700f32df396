"""A skin read row by row says what it says point by point, and its curvatures are the slopes' own differences."""

import numpy as np
import pytest

from engine.blank import bend_at, row_of, sample, spline_at
from tests.blank.skins import SKINS

STEP = 1e-5


@pytest.mark.parametrize("name", SKINS)
def test_rows_agree_with_points_and_curvatures_with_differences_of_slopes(name):
    low, high = SKINS[name].x_range_mm
    skin = sample(SKINS[name], low + 0.2 * (high - low), low + 0.8 * (high - low), 1e-5)
    C, frame = skin.coefficients, skin.frame
    row = np.zeros((3, C.shape[1]))
    rng = np.random.default_rng(11)
    for x in rng.uniform(skin.x_range_mm[0] + 0.1, skin.x_range_mm[1] - 0.1, 12):
        row_of(C, frame, x, row)
        for theta in rng.uniform(-9, 9, 6):
            r, rx, rt, rxx, rxt, rtt = bend_at(row, frame, theta)
            assert (r, rx, rt) == pytest.approx(spline_at(C, frame, x, theta), abs=1e-10)
            ahead, behind = (spline_at(C, frame, x + d, theta) for d in (STEP, -STEP))
            on, back = (spline_at(C, frame, x, theta + d) for d in (STEP, -STEP))
            along, around = ((np.array(a) - b) / (2 * STEP) for a, b in ((ahead, behind), (on, back)))
            assert (rxx, rxt) == pytest.approx(along[1:].tolist(), abs=2e-3)
            assert (rxt, rtt) == pytest.approx(around[1:].tolist(), abs=2e-3)
