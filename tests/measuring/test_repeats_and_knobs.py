"""Tables and logs by their routes: a knob, and repeats that contradict each other, reach the answer and its skin."""

import numpy as np
import pytest

from engine.blank import sigma_at
from tests.measuring.ask import ask, skin_of
from tests.measuring.probing import GOURD

X, ANGLE = np.linspace(8, 112, 15), np.arange(24) * 15.0
ROUTES = {"grid": {"asset": "t", "angle_unit": "degrees"}, "probe-log": {"log": "t", "tip_radius_mm": 0.001}}


def answered(way, *layers):
    """The answer to readings of the gourd at all places once a layer, (k,) mm or one figure added."""
    x, angle = (v.ravel() for v in np.meshgrid(X, ANGLE, indexing="ij"))
    rng = np.random.default_rng(3)
    lines = ["x_mm,angle_deg,radius_mm"]
    for more in layers:
        radius = GOURD.radius(x, np.radians(angle)) + rng.normal(0, 0.02, len(x)) + more
        lines += [f"{a:.4f},{b:g},{r:.4f}" for a, b, r in zip(x, angle, radius, strict=True)]
    return ask(way, ROUTES[way], files={"t": "\n".join(lines).encode()})


def codes(answer):
    return {f["code"] for f in answer.value["findings"]} & {"standing-out", "hollow-left-out", "repeats-differ"}


@pytest.mark.parametrize("way", ROUTES)
def test_every_place_read_twice_a_millimetre_apart(way):
    answer = answered(way, 0.0, 1.0)
    assert "repeats-differ" in codes(answer)
    assert sigma_at(skin_of(answer), np.array([30.0, 61.0]), np.array([0.3, 4.0])).min() > 0.45
    assert not codes(answered(way, 0.0, 0.0))


def test_a_knob_that_a_log_tells_of_is_as_unsure_as_it_is_high():
    knob = np.zeros((len(X), len(ANGLE)))
    knob[6:8, 4:6] = 6.0
    answer = answered("probe-log", knob.ravel())
    assert codes(answer) == {"standing-out"}
    at = np.array([0.5 * (X[6] + X[7])]), np.radians([67.5])
    assert sigma_at(skin_of(answer), *at)[0] > 5.0
