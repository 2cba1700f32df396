"""From a measurement to the cut: art engraved by a program planned on the measured skin, judged on the true one."""

import numpy as np
import pytest

import engine
from engine.blank import Sampled
from engine.kernel.values import Kind, Tool
from engine.machine import Profile
from engine.measure import Readings
from engine.measure.surface import fit_readings
from engine.measuring.answer import skin_answer
from engine.proof import prove
from tests.measure.chucking.bodies import Gourd

TRUE = Gourd()
DEPTH = 0.2
ART = b"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">
<path d="M2 2H38V38H2Z M12 12V28H28V12Z" fill-rule="evenodd"/></svg>"""


def probed(seed):
    """The gourd by 20 x 24 touches with 0.02 mm of noise, one in a hundred wild."""
    rng = np.random.default_rng(seed)
    x, theta = (v.ravel() for v in np.meshgrid(np.linspace(8, 112, 20), np.arange(24) * np.pi / 12, indexing="ij"))
    r = TRUE.radius(x, theta) + rng.normal(0, 0.02, x.size)
    wild = rng.choice(x.size, 5, replace=False)
    r[wild] += rng.choice([-1, 1], 5) * rng.uniform(0.3, 5, 5)
    return fit_readings(Readings(x_mm=x, theta_rad=theta, radius_mm=r, sigma_mm=np.zeros(x.size)))


def depths_on_the_true_skin(program):
    """(n,) depth along the true normal at the ends of cutting moves, and the length of each move."""
    x, theta = np.linspace(5, 115, 441), np.arange(360) * np.pi / 180
    skin = Sampled.of(TRUE.radius(x[:, None], theta), 5.0, 115.0)
    replay = prove(program, skin=skin, tool=Tool(), machine=Profile()).replay
    cut = replay.kind == Kind.CUT
    x, theta, r = replay.end[cut].T
    true, (per_x, per_theta) = TRUE.radius(x, theta), TRUE.slopes(x, theta)
    return (true - r) / np.sqrt(1 + per_x**2 + (per_theta / true) ** 2), replay.way_mm[cut]


@pytest.mark.parametrize("seed", [1, 2])
def test_art_on_a_probed_gourd_comes_out_as_deep_as_asked_and_as_sure_as_told(seed):
    answer = skin_answer(probed(seed))
    document = {
        "schema": "roundwright.job/1",
        "name": "Probed gourd",
        "blank": answer.value["blank"],
        "artwork": [
            {
                "asset": "art",
                "placement": {"x_mm": 60, "angle_deg": 40},
                "marking": {"style": "hatch", "pitch_mm": 1.0, "angle_deg": 30, "outline": True},
                "depth_mm": DEPTH,
            }
        ],
    }
    files = {"art": ART, answer.value["blank"]["asset"]: answer.table}
    known = engine.Known(assets={"art": "vector", answer.value["blank"]["asset"]: "table"})
    plan = engine.plan(engine.read_job(document, known=known), files)
    depth, way = depths_on_the_true_skin(plan.program().text)
    off = depth - DEPTH
    within = way[np.abs(off) <= 0.05].sum() / way.sum()
    assert within >= 0.98, f"{within:.1%} of {way.sum():.0f} mm"
    told = plan.report["skin_error_mm"]
    spread = float(np.sqrt((way * off**2).sum() / way.sum()))
    assert 0.4 * told["least"] < spread < 1.6 * told["greatest"]
