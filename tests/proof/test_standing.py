"""Where the tool stands still: at the end, at the spindle's switches and at waits; heights against closed forms."""

import math

import numpy as np
import pytest

from engine.blank import Cylinder
from engine.kernel.values import Form, Tool
from engine.machine import Profile
from engine.proof.form import form_of
from engine.proof.touching import touching_mm
from tests.proof.programs import BAR, R, codes, lines, proof_of

GOOD = lines()
CUT = next(k for k, line in enumerate(GOOD) if line.startswith("G1 A60"))


def after_the_cut(*more):
    return [*GOOD[: CUT + 1], *more, *GOOD[CUT + 1 :]]


@pytest.mark.parametrize("tail", [["M5", "M2"], ["M2"], ["M30"]])
def test_a_program_that_ends_with_the_tip_in_the_skin_is_told(tail):
    found = proof_of([*GOOD[: CUT + 1], *tail]).findings
    (end,) = [f for f in found if f.code == "ends-in-work"]
    assert end.severity.value == "error" and "0.200 mm deep" in end.message and end.where.line == CUT + 1
    closed = ["%", *GOOD[: CUT + 1], "%"]
    assert ("error", "ends-in-work") in codes(proof_of(closed))
    lifted = [*GOOD[: CUT + 2], *tail]  # to the approach height: clear
    assert ("error", "ends-in-work") not in codes(proof_of(lifted))


@pytest.mark.parametrize(
    ("switch", "code"),
    [
        (["M5", "G4 P5", "M3"], ("error", "spindle-in-work")),
        (["T2 M6", "S12000 M3"], ("error", "spindle-in-work")),
        (["S9000 M4"], ("error", "spindle-in-work")),
        (["M0"], ("warning", "waits-in-work")),
        (["M1"], ("warning", "waits-in-work")),
        (["G4 P600"], ("warning", "waits-in-work")),
    ],
)
def test_what_is_switched_or_waited_for_in_the_skin_is_told_and_above_it_is_not(switch, code):
    assert code in codes(proof_of(after_the_cut(*switch)))
    k = CUT + 3  # after the rapid up
    clear = [*GOOD[: k + 1], *switch, "S9000 M3", *GOOD[k + 1 :]]
    assert code not in codes(proof_of(clear))


def test_a_wait_on_the_line_of_a_move_comes_before_it_and_a_stop_after():
    down = next(k for k, line in enumerate(GOOD) if line.startswith("G1 Z19.8"))
    waits = [*GOOD[:down], GOOD[down] + " G4 P1", *GOOD[down + 1 :]]
    assert ("warning", "waits-in-work") not in codes(proof_of(waits))
    stops = [*GOOD[:down], GOOD[down] + " M0", *GOOD[down + 1 :]]
    assert ("warning", "waits-in-work") in codes(proof_of(stops))


def test_a_shops_own_line_in_the_skin_is_an_error_and_above_it_a_warning():
    machine = Profile(footer=("G28 X0",))
    end = GOOD.index("M5")
    footer = [*GOOD[:end], "G28 X0", *GOOD[end:]]
    assert codes(proof_of(footer, machine=machine)) == {("warning", "shop-line")}
    dragged = codes(proof_of(after_the_cut("G28 X0", "G0 Z30"), machine=machine))
    assert ("error", "shop-line-in-work") in dragged


@pytest.mark.parametrize("x", [20.0, 45.0])
def test_heights_are_those_of_the_closed_forms_on_a_bar(x):
    form = form_of(Tool(form=Form.FLAT, diameter_mm=6.0))
    assert touching_mm(BAR, form, x, 0.7) == pytest.approx(R, abs=1e-9)
    ball = form_of(Tool(form=Form.BALL, diameter_mm=3.0))
    assert touching_mm(BAR, ball, x, -2.0) == pytest.approx(R, abs=1e-9)
    assert touching_mm(BAR, ball, 200.0, 0.0) == -math.inf


def test_a_flat_stands_on_the_uphill_side_of_a_step():
    class Step(Cylinder):
        def radius(self, x_mm, theta_rad):
            return np.where(np.broadcast_arrays(x_mm, theta_rad)[0] > 45.0, 25.0, 20.0)

    flat = form_of(Tool(form=Form.FLAT, diameter_mm=4.0))
    step = Step(diameter_mm=40, length_mm=90)
    assert touching_mm(step, flat, 43.5, 0.0) == pytest.approx(25.0, abs=0.01)
    assert touching_mm(step, flat, 42.5, 0.0) == pytest.approx(20.0)


def test_a_switch_in_the_skin_is_found_after_thousands_of_waits_above_it():
    k = CUT + 3
    waits = [word for _ in range(6000) for word in ("G0 Z23", "G4 P0.1", "G0 Z22.2", "G4 P0.1")]
    last = max(n for n, line in enumerate(GOOD) if line.startswith("G1 A60"))
    long = [*GOOD[: k + 1], *waits, *GOOD[k + 1 : last + 1], "M5", "M3", "G4 P1", *GOOD[last + 1 :]]
    assert codes(proof_of(long)) == {("error", "spindle-in-work"), ("warning", "waits-in-work")}


def test_a_speed_restated_in_the_skin_switches_nothing_and_none_at_all_does():
    assert codes(proof_of(after_the_cut("M3 S9000"))) == set()
    assert ("error", "spindle-in-work") in codes(proof_of(after_the_cut("S0", "S9000")))


def test_a_program_that_is_not_judged_to_its_end_is_not_blamed_for_its_end():
    far = [*GOOD[: CUT + 1], "G1 X200000 F240", *GOOD[CUT + 1 :]]
    found = {f.code for f in proof_of(far).findings}
    assert "too-far" in found and not {"ends-in-work", "spindle-in-work"} & found


def test_an_end_low_over_the_skin_is_a_warning():
    low = [*GOOD[:-3], "G0 Z25.0000", "G1 Z20.1 F80", "M5", "M2"]
    assert ("warning", "ends-in-work") in codes(proof_of(low))
