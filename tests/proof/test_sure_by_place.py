"""A skin that is well known on one side and badly on the other: each place counts by its own sigma."""

import numpy as np
import pytest

import engine
from engine.blank import Sampled, Spread, write_grid
from engine.kernel.values import Kind, Tool
from engine.machine import Profile
from engine.toolpath.link import link, margin_mm
from tests.proof.programs import lines, proof_of
from tests.test_plan import BADGE, document
from tests.toolpath.runs_made import runs_of

GOOD = lines()
STATIONS = np.linspace(0.0, 90.0, 91)


def bar(sigma_mm):
    """The bar of 40 by 90 with a sigma by station and angle."""
    radius = np.full((91, 36), 20.0)
    spread = Spread(x0_mm=0.0, x1_mm=90.0, sigma_mm=np.broadcast_to(sigma_mm, (91, 36)))
    return Sampled.of(radius, 0.0, 90.0, spread=spread, is_round=True)


def shares(skin):
    sure = proof_of(GOOD, skin=skin).sure
    return sure.unmarked.mean, sure.too_deep.mean


def test_the_mean_share_is_the_mean_over_the_places_own_chances():
    known, vague = (shares(bar(sigma))[0] for sigma in (0.05, 0.3))
    half = shares(bar(np.where(STATIONS[:, None] < 43, 0.05, 0.3)))[0]  # the cut's rows lie evenly from 40 to 46
    assert known < 0.001
    assert vague > 0.2
    assert half == pytest.approx(0.5 * (known + vague), abs=0.02)


def test_a_wall_is_in_doubt_only_where_the_skin_is():
    def thin(skin):
        return [f for f in proof_of(GOOD, skin=skin, wall_mm=0.5).findings if f.code == "thin-wall"]

    far_off = bar(np.where(STATIONS[:, None] < 25, 0.5, 0.01))  # the cut lies at 40 to 46
    under = bar(np.where((STATIONS[:, None] > 25) & (STATIONS[:, None] < 65), 0.5, 0.01))
    assert not thin(far_off)
    (told,) = thin(under)
    assert "1 mm elsewhere" in told.message and 40 <= told.where.x_mm <= 46


def test_rapids_stop_above_what_the_skin_may_reach_where_it_is_little_known_and_only_there():
    deep = 19.8
    two = [[[(10, 0.1, deep), (12, 0.1, deep)]], [[(80, 1.0, deep), (81, 1.0, deep)]]]
    skin = bar(np.where(STATIONS[:, None] < 45, 1.5, 0.01))
    path = link(runs_of(two), skin, Tool(), Profile())
    plunges = np.flatnonzero(path.kind == Kind.PLUNGE)
    margin = margin_mm(Profile())
    assert path.r_mm[plunges - 1] == pytest.approx([23.0 + margin, 20.3 + margin], abs=1e-6)
    over = path.r_mm[(path.kind == Kind.TRAVEL) & (path.stroke > 0)]
    assert over.max() == pytest.approx(23.0 + margin, abs=1e-6)  # hops too: two standard deviations are over clearance


def plan_on(sigma_mm):
    csv = write_grid(STATIONS, np.full((91, 36), 20.0), np.broadcast_to(sigma_mm, (91, 36)))
    job = document(blank={"shape": "grid", "asset": "skin"})
    for name in ("diameter_mm", "length_mm", "radius_error_mm"):
        del job["blank"][name]
    known = engine.Known(assets={"badge": "vector", "skin": "table"})
    return engine.plan(engine.read_job(job, known=known), {"badge": BADGE, "skin": csv})


def test_art_on_skin_that_is_not_known_to_its_depth_is_told_with_the_place():
    plan = plan_on(np.where(STATIONS[:, None] > 46, 0.3, 0.01))
    (told,) = [f for f in plan.findings if f.code == "skin-unsure"]
    assert told.where.pointer == "/artwork/0" and told.where.x_mm > 45 and "two standard deviations" in told.message
    error = plan.report["skin_error_mm"]
    assert error["least"] < 0.1 and 0.2 < error["greatest"] <= 0.3
    assert not [f for f in plan_on(0.01).findings if f.code == "skin-unsure"]
