"""Features thinner than the groove and gaps that close: told where they are, and nowhere else."""

from dataclasses import replace

import numpy as np
import pytest

from engine.blank import sample
from engine.kernel.values import Form, Tool, Wanted
from engine.proof.fine import fine_parts, judge_fine
from tests.proof.programs import BAR

CELL = 0.05
X = np.arange(40, 50, CELL)
ROUND = np.arange(-5, 5, CELL)  # mm around the bar of radius 20
THETA = ROUND / 20.0
NEAR = sample(BAR, 35.0, 55.0)
FLAT = Tool(form=Form.FLAT, diameter_mm=1.0)


def field(*boxes, depth=0.2):
    held = np.zeros((len(X), len(ROUND)))
    for x0, x1, u0, u1 in boxes:
        held[np.ix_((x0 <= X) & (x1 > X), (u0 <= ROUND) & (u1 > ROUND))] = depth
    return Wanted(x_mm=X, theta_rad=THETA, depth_mm=held, feed_mm_min=240, plunge_mm_min=80)


def told(wanted, made):
    (fine,) = fine_parts(wanted, NEAR, [FLAT])
    return {f.code: f for f in judge_fine(fine, wanted, made.astype(np.float32), NEAR)}


def test_a_wide_square_and_what_is_beside_it_are_fine():
    wanted = field((42, 48, -3, 3))
    assert told(wanted, wanted.depth_mm) == {}


def test_a_bar_thinner_than_the_groove_is_told_at_its_place_and_share():
    wanted = field((42, 48, -4, 0), (42, 48, 3, 3.5))
    found = told(wanted, wanted.depth_mm)
    assert set(found) == {"too-thin"} and found["too-thin"].severity.value == "warning"
    where = found["too-thin"].where
    assert 42 < where.x_mm < 48 and np.radians(where.angle_deg) * 20 == pytest.approx(3.25, abs=0.3)
    share = float(found["too-thin"].message.partition("%")[0])
    assert share == pytest.approx(100 * 3 / 27, abs=1.0)


@pytest.mark.parametrize(("wide", "thin"), [(0.75, True), (1.05, False)])
def test_the_bound_is_the_groove_itself(wide, thin):
    wanted = field((42, 48, -4, 0), (42, 48, 2, 2 + wide))
    assert ("too-thin" in told(wanted, wanted.depth_mm)) is thin


def test_a_gap_is_told_where_it_is_cut_away_and_not_where_it_stays():
    wanted = field((42, 48, -4, -0.2), (42, 48, 0.2, 4))
    assert told(wanted, wanted.depth_mm) == {}
    over = field((42, 48, -4, 4)).depth_mm
    found = told(wanted, over)
    assert set(found) == {"gap-closed"}
    where = found["gap-closed"].where
    assert abs(np.radians(where.angle_deg) * 20) < 0.25
    assert float(found["gap-closed"].message.partition(" mm2")[0]) == pytest.approx(0.4 * 6, rel=0.15)


def test_a_groove_finer_than_the_cells_is_not_looked_for():
    wanted = field((42, 48, 3, 3.1))
    (fine,) = fine_parts(wanted, NEAR, [Tool(tip_mm=0.05, angle_deg=20)])
    assert not fine.thin.any() and not fine.gaps.any()


def test_a_spot_across_the_seam_is_one():
    around = np.arange(240) * (2 * np.pi / 240)
    x = np.arange(40, 45, CELL)
    thin = np.zeros((len(x), 240))
    thin[20:24, 100:118] = 0.2  # the longest line that lies in one piece
    thin[60:64, 225:] = thin[60:64, :15] = 0.2  # a longer one, half on either side
    wanted = Wanted(x_mm=x, theta_rad=around, depth_mm=thin, feed_mm_min=240, plunge_mm_min=80)
    tool = Tool(form=Form.FLAT, diameter_mm=2.6)
    found = {f.code: f for f in judge_fine(*fine_parts(wanted, NEAR, [tool]), wanted, thin.astype(np.float32), NEAR)}
    where = found["too-thin"].where
    assert min(where.angle_deg, 360 - where.angle_deg) < 25 and 43 < where.x_mm < 43.2


def test_each_part_of_the_art_is_held_to_the_finest_of_its_own_tools():
    """Two bars of half a millimetre: too thin for the flat end of one, not for the cone of the other."""
    cone = Tool(tip_mm=0.1, angle_deg=60)
    whole = field((42, 48, -4, -3.5), (42, 48, 3, 3.5))
    left = field((42, 48, -4, -3.5)).depth_mm > 0
    bits = np.where(left, 1, 3).astype(np.uint8) * (whole.depth_mm > 0)
    wanted = replace(whole, tools=bits)
    parts = fine_parts(wanted, NEAR, [FLAT, cone])
    assert sorted(part.width_mm for part in parts) == pytest.approx([cone.width_mm(0.2), 1.0])
    thin = np.any([part.thin for part in parts], axis=0)
    assert thin[left].mean() > 0.5 and not thin[~left].any()
    (alone,) = fine_parts(whole, NEAR, [FLAT, cone])
    assert alone.width_mm == cone.width_mm(0.2) and not alone.thin.any()
    beside = replace(whole, tools=(whole.depth_mm > 0) * np.uint8(2))
    (part,) = fine_parts(beside, NEAR, [FLAT, cone])  # the flat end has no art
    assert part.width_mm == cone.width_mm(0.2)
