"""From a measurement to the cut: art engraved by a program planned on the measured skin, judged on the true one."""

import numpy as np
import pytest

import engine
from engine.blank import Sampled
from engine.kernel.values import Kind, Tool
from engine.machine import Profile
from engine.measure import Readings
from engine.measure.photographs import Lens, Setup, skin_from_edges
from engine.measure.surface import fit_readings
from engine.measuring.answer import skin_answer
from engine.proof import prove
from tests.measure.chucking.bodies import Gourd
from tests.measure.photographs import outlines

PROBED, SEEN = Gourd(), outlines.GOURD
DEPTH = 0.2
ART = b"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">
<path d="M2 2H38V38H2Z M12 12V28H28V12Z" fill-rule="evenodd"/></svg>"""


def probed(seed):
    """The gourd by 20 x 24 touches with 0.02 mm of noise, one in a hundred wild."""
    rng = np.random.default_rng(seed)
    x, theta = (v.ravel() for v in np.meshgrid(np.linspace(8, 112, 20), np.arange(24) * np.pi / 12, indexing="ij"))
    r = PROBED.radius(x, theta) + rng.normal(0, 0.02, x.size)
    wild = rng.choice(x.size, 5, replace=False)
    r[wild] += rng.choice([-1, 1], 5) * rng.uniform(0.3, 5, 5)
    return fit_readings(Readings(x_mm=x, theta_rad=theta, radius_mm=r, sigma_mm=np.zeros(x.size)))


def seen(faults, **setup):
    """The other gourd by 36 photographs' outlines."""
    angles = np.arange(36) * 10.0
    edges, axis_px = outlines.photographs(SEEN, angles, faults, seed=4)
    ends = {"axis_from_px": tuple(axis_px[0]), "axis_to_px": tuple(axis_px[1])}
    given = {**ends, "size_px": outlines.SIZE_PX, "length_mm": SEEN.length_mm, "camera_mm": 300.0, **setup}
    return skin_from_edges(edges, angles, Setup(**given))


def depths_on(true, program):
    """(n,) depth along the true skin's normal, of the rim of the tool's flat tip that stands deepest, at the ends of
    cutting moves; and the length of each move.
    """
    x, theta = np.linspace(5, 105, 401), np.arange(360) * np.pi / 180
    skin = Sampled.of(true.radius(x[:, None], theta), 5.0, 105.0)
    replay = prove(program, skin=skin, tools=[Tool()], machine=Profile()).replay
    cut = replay.kind == Kind.CUT
    x, theta, r = replay.end[cut].T
    outer, (per_x, per_theta) = true.radius(x, theta), true.slopes(x, theta)
    steep = np.hypot(per_x, per_theta / outer)
    return (outer - r + Tool().flat_mm * steep) / np.hypot(1, steep), replay.way_mm[cut]


def planned(measured):
    """The plan of one piece of art on a measured gourd."""
    answer = skin_answer(measured)
    document = {
        "schema": "roundwright.job/1",
        "name": "Measured gourd",
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
    return engine.plan(engine.read_job(document, known=known), files)


IDEAL = outlines.Faults(noise_px=0.1, edge_px=0.25)  # as far out as an edge is known to be
FAULTY = outlines.Faults(noise_px=0.3, k1=-0.08, angle_deg=0.5, wobble_mm=0.3, marks_px=1.5, holder_mm=9.0)
CARD = Lens(k1=-0.079, k1_sigma=0.001)


@pytest.mark.parametrize(
    ("true", "measure", "limit_mm"),
    [
        pytest.param(PROBED, lambda: probed(1), 0.05, id="probe"),
        pytest.param(PROBED, lambda: probed(2), 0.05, id="probe, other noise"),
        pytest.param(SEEN, lambda: seen(IDEAL, axis_sigma_px=0.1), 0.05, id="ideal photographs"),
        pytest.param(SEEN, lambda: seen(FAULTY, axis_sigma_px=1.5, lens=CARD), 0.25, id="photographs with all faults"),
    ],
)
def test_art_on_a_measured_gourd_comes_out_as_deep_as_asked_and_as_sure_as_told(true, measure, limit_mm):
    plan = planned(measure())
    depth, way = depths_on(true, plan.program().text)
    off = depth - DEPTH
    within = way[np.abs(off) <= limit_mm].sum() / way.sum()
    assert within >= 0.98, f"{within:.1%} of {way.sum():.0f} mm"
    told = plan.report["skin_error_mm"]
    spread = float(np.sqrt((way * off**2).sum() / way.sum()))
    assert 0.4 * told["least"] < spread < 1.6 * told["greatest"]
