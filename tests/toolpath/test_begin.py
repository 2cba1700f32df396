"""Strokes that close round the blank begin at the seam, and nothing else about them changes."""

import numpy as np
import pytest

from engine.toolpath import Laid, begin_at

TURN = 2 * np.pi


def laid(*strokes):
    rows = np.concatenate(strokes)
    return Laid(
        x_mm=rows[:, 0],
        theta_rad=rows[:, 1],
        depth_mm=rows[:, 2],
        offsets=np.concatenate([[0], np.cumsum([len(s) for s in strokes])]),
        reversible=np.ones(len(strokes), np.bool_),
    )


def ring(first, *, n=37, back=False):
    """A wave once round: x and depth close, theta ends a turn on."""
    t = np.linspace(0, TURN, n)
    stroke = np.stack([20 + np.sin(3 * t), first + (-t if back else t), 0.2 + 0.1 * np.cos(2 * t)], axis=1)
    stroke[-1] = stroke[0] + [0, -TURN if back else TURN, 0]
    return stroke


def stroke_of(all_, k):
    part = slice(all_.offsets[k], all_.offsets[k + 1])
    return np.stack([all_.x_mm[part], all_.theta_rad[part], all_.depth_mm[part]], axis=1)


@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("seam", [np.pi, 0.0, -1.234, 2.0, 17.3])
@pytest.mark.parametrize("first", [-np.pi, 0.3, 9.0])
def test_a_closed_stroke_begins_and_ends_at_the_seam_and_passes_the_same_places(first, seam, back):
    before = ring(first, back=back)
    after = stroke_of(begin_at(laid(before), seam), 0)
    assert abs(np.exp(1j * after[0, 1]) - np.exp(1j * seam)) < 1e-9
    assert after[-1] - after[0] == pytest.approx([0, -TURN if back else TURN, 0], abs=1e-9)
    assert abs(np.ptp(after[:, 1]) - TURN) < 1e-9
    assert (np.sign(np.diff(after[:, 1])) == (-1 if back else 1)).all()

    # Every point it had is a point still, and those it has lie on it.
    def at(stroke, theta):
        rise = stroke[np.argsort(stroke[:, 1])]
        return np.stack([np.interp(theta, rise[:, 1], rise[:, k], period=None) for k in (0, 2)], axis=1)

    low = before[:, 1].min()
    home = low + np.mod(after[:, 1] - low, TURN)
    assert at(before, home) == pytest.approx(after[:, [0, 2]], abs=1e-9)
    low = after[:, 1].min()
    home = low + np.mod(before[:, 1] - low, TURN)
    assert at(after, home) == pytest.approx(before[:, [0, 2]], abs=1e-9)


@pytest.mark.parametrize("k", [0, 1, 5, 35])
@pytest.mark.parametrize("back", [False, True])
def test_where_the_seam_is_at_a_point_of_it_that_point_is_not_doubled(k, back):
    before = ring(0.0, back=back)
    after = stroke_of(begin_at(laid(before), before[k, 1]), 0)
    assert len(after) == len(before)
    assert (np.abs(np.diff(after[:, 1])) > 1e-6).all()


def test_what_does_not_close_is_as_it_was_and_order_is_kept():
    helix = ring(0.0) + np.linspace([0, 0, 0], [1, 0, 0], 37)
    short = ring(0.0)[:20]
    rising = ring(0.5)
    rising[-1, 2] += 0.05
    before = laid(helix, ring(0.0), short, rising)
    after = begin_at(before, 1.0)
    for k, stroke in ((0, helix), (2, short), (3, rising)):
        assert (stroke_of(after, k) == stroke).all()
    assert stroke_of(after, 1)[0, 1] == pytest.approx(1.0)
    assert begin_at(laid(helix, short), 1.0).theta_rad.tolist() == np.concatenate([helix, short])[:, 1].tolist()
