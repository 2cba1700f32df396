"""The ray caster against points of the skin that were projected one by one."""

import numpy as np
import pytest

from tests.measure.photographs import pieces, renderer


@pytest.mark.parametrize("k1", [0.0, -0.08])
def test_no_point_of_the_skin_stands_outside_the_edge_and_some_touch_it(k1):
    setting = renderer.Setting(**renderer.SMALL, k1=k1, pitch_deg=1.5, roll_deg=20, offset_mm=4, along_mm=-6)
    place = renderer.camera(pieces.GOURD, setting)
    for x in (20.0, 55.0, 90.0):
        theta = np.radians(np.arange(0, 360, 0.25))
        r = pieces.truth(pieces.GOURD, x, theta)
        turned = theta - np.radians(40.0)
        lab = np.stack([np.full(len(r), x), r * np.sin(turned), r * np.cos(turned)], axis=1)
        seen = renderer.project(*place, lab)
        ends = renderer.project(*place, [[0, 0, 0], [110, 0, 0]])
        along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        across = np.array([-along[1], along[0]])
        foot = renderer.project(*place, [[x, 0, 0]])[0]
        for side in (1.0, -1.0):
            outermost = seen[np.argmax((seen - foot) @ across * side)]
            off = renderer.off_edge_px(pieces.GOURD, 40.0, setting, outermost[None], side * across[None], reach=20.0)
            # a section's own outermost point lies on the edge only where the skin is level; it is never outside it
            assert -12.0 < off[0] < 0.02


def test_a_seed_gives_the_same_photograph_and_the_lens_bends_it():
    setting = renderer.Setting(width=400, height=304, px_per_mm=3.0)
    bent = renderer.Setting(width=400, height=304, px_per_mm=3.0, k1=-0.08)
    one, ends = renderer.photograph(pieces.OVAL, 10.0, setting, seed=5)
    assert np.array_equal(one, renderer.photograph(pieces.OVAL, 10.0, setting, seed=5)[0])
    other, bent_ends = renderer.photograph(pieces.OVAL, 10.0, bent, seed=5)
    rho2 = (135 / np.hypot(200, 152)) ** 2
    assert bent_ends[1, 0] - 200 == pytest.approx((ends[1, 0] - 200) * (1 - 0.08 * rho2))
    assert np.abs(one.astype(int) - other).max() > 50
