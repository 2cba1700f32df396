"""A blank measured from both ends: two measurements of one body given by a formula."""

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.measure import Measured, even_angles
from engine.measure.chucking import Mark, Motion, Moved, end_for_end
from tests.measure.chucking.bodies import Gourd, Spheroid

BODY, N = Gourd(), 90
SUM, TURN_DEG = 130.0, 50.0
FLIP = Motion.end_for_end(SUM, np.radians(TURN_DEG))
MARKS = [
    Mark(first_x_mm=x, first_angle_deg=a, second_x_mm=SUM - x, second_angle_deg=TURN_DEG - a)
    for x, a in ((30.0, 10.0), (100.0, 200.0))
]


def measure(skin, low, high, sigma=0.02, rng=None, findings=()):
    """A grid of `skin` from `low` to `high` every mm, with an error of that sigma that is smooth."""
    x = np.linspace(low, high, round(high - low) + 1)
    radius = skin.radius(x[:, None], even_angles(N)[None, :])
    if rng is not None:
        for order in range(4):
            phase, drift = rng.uniform(0, 6.28), rng.uniform(-0.1, 0.1)
            radius = radius + sigma * np.sqrt(0.5) * np.cos(order * even_angles(N) + drift * x[:, None] + phase)
    whole = np.ones(radius.shape)
    return Measured(x_mm=x, radius_mm=radius, sigma_mm=sigma * whole, known=whole > 0, findings=findings)


def truth_at(made, motion=FLIP):
    return Moved(skin=BODY, motion=motion).radius(made.x_mm[:, None], made.theta_rad[None, :])


def codes(made):
    return [finding.code for finding in made.findings]


def test_two_halves_make_the_whole_in_the_second_frame():
    first, second = measure(BODY, 5, 70), measure(Moved(skin=BODY, motion=FLIP), 15, 75)
    made = end_for_end(first, second, MARKS)
    assert made.x_mm[[0, -1]] == pytest.approx([15.0, 125.0]) and len(made.x_mm) == 111
    assert made.known.all() and codes(made) == ["ends-agree"]
    assert made.radius_mm == pytest.approx(truth_at(made), abs=2e-3)
    assert made.findings[0].severity is Severity.NOTE


def test_turned_end_for_end_twice_it_is_itself():
    whole = measure(BODY, 5, 115)
    over = measure(Moved(skin=BODY, motion=FLIP), 15, 125)
    once = end_for_end(whole, over, MARKS)
    back = [
        Mark(
            first_x_mm=m.second_x_mm,
            first_angle_deg=m.second_angle_deg,
            second_x_mm=m.first_x_mm,
            second_angle_deg=m.first_angle_deg,
        )
        for m in MARKS
    ]
    twice = end_for_end(once, whole, back)
    assert twice.x_mm == pytest.approx(whole.x_mm, abs=1e-9)
    assert twice.radius_mm == pytest.approx(whole.radius_mm, abs=1e-3)


def test_a_lean_and_marks_read_badly_are_put_right_by_the_overlap():
    lean = Motion(tilt_y_rad=0.006, tilt_z_rad=-0.008, offset_y_mm=0.4, offset_z_mm=-0.3, pivot_mm=65.0)
    truly = FLIP.then(lean)
    shaky = [
        Mark(first_x_mm=30.3, first_angle_deg=10.8, second_x_mm=100.2, second_angle_deg=40.6),
        Mark(first_x_mm=100.1, first_angle_deg=200.5, second_x_mm=30.2, second_angle_deg=-149.3),
    ]
    first = measure(BODY, 5, 85)
    second = measure(Moved(skin=BODY, motion=truly), 16, 85)
    made = end_for_end(first, second, shaky)
    truth = truth_at(made, truly)
    assert np.sqrt(((made.radius_mm - truth)[made.known] ** 2).mean()) < 0.02
    assert "tilt 0.573 deg" in dict(made.how)["how the ends lie"]  # the square root of 6 and 8 mrad squared


def test_its_sigma_foretells_its_error_and_is_less_where_both_are_known():
    ratio, told = [], []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        first = measure(BODY, 5, 80, rng=rng)
        second = measure(Moved(skin=BODY, motion=FLIP), 15, 75, rng=rng)
        made = end_for_end(first, second, MARKS)
        ratio.append((((made.radius_mm - truth_at(made)) / made.sigma_mm)[3:-3] ** 2).mean())
        told.append([made.sigma_mm[45:50].mean(), made.sigma_mm[5:10].mean()])
    assert 0.7 < np.sqrt(np.mean(ratio)) < 1.4
    assert np.mean(told, axis=0)[0] < 0.9 * np.mean(told, axis=0)[1]


def test_nothing_jumps_where_one_measurement_ends():
    first = measure(BODY, 5, 80)
    second = measure(Moved(skin=BODY, motion=FLIP), 15, 75)
    swollen = Measured(
        x_mm=second.x_mm, radius_mm=second.radius_mm + 0.05, sigma_mm=second.sigma_mm, known=second.known
    )
    made = end_for_end(first, swollen, MARKS)
    error = made.radius_mm - truth_at(made)
    apart = error[:5].mean() - error[-5:].mean()
    assert apart > 0.05
    assert np.abs(np.diff(error, axis=0)).max() < 0.3 * apart  # unblended, half of it at either end


def test_gaps_of_one_are_filled_from_the_other():
    whole = measure(BODY, 5, 115)
    known = whole.known.copy()
    known[40:60, 20:40] = False
    radius = whole.radius_mm.copy()
    radius[40:60, 20:40] += 3.0 * np.outer(
        np.sin(np.pi * np.arange(20) / 20) ** 2, np.sin(np.pi * np.arange(20) / 20) ** 2
    )
    gappy = Measured(x_mm=whole.x_mm, radius_mm=radius, sigma_mm=np.where(known, 0.02, 3.0), known=known)
    made = end_for_end(gappy, measure(Moved(skin=BODY, motion=FLIP), 15, 125), MARKS)
    assert made.known.all()
    assert np.abs(made.radius_mm - truth_at(made)).max() < 0.02


def test_a_round_blank_keeps_the_turn_of_its_marks():
    egg = Spheroid(a_mm=60, b_mm=25, centre_mm=60)
    first, second = measure(egg, 10, 75), measure(Moved(skin=egg, motion=FLIP), 20, 80)
    made = end_for_end(first, second, MARKS)
    assert ", -0.00 deg" in dict(made.how)["how the ends lie"] or ", 0.00 deg" in dict(made.how)["how the ends lie"]


def test_halves_that_do_not_meet_are_joined_by_the_marks_and_it_is_said():
    first, second = measure(BODY, 5, 50), measure(Moved(skin=BODY, motion=FLIP), 15, 60)
    made = end_for_end(first, second, MARKS)
    assert codes(made) == ["no-overlap", "ends-not-compared"]
    gap = (made.x_mm > 61) & (made.x_mm < 79)
    assert not made.known[gap].any() and made.known[~gap].mean() > 0.97
    assert made.sigma_mm[gap].mean() > 10 * made.sigma_mm[~gap].min()


def test_another_blank_disagrees_in_the_overlap():
    other = Gourd(lobes=((2, 2.5, 2.0, 0.0), (4, 1.5, 0.0, 0.01)))
    made = end_for_end(measure(BODY, 5, 85), measure(Moved(skin=other, motion=FLIP), 15, 85), MARKS)
    assert codes(made) == ["overlap-does-not-fit", "ends-disagree"]
    assert made.sigma_mm[-30:].mean() > 0.5  # the first end hangs on the marks alone


def test_findings_of_both_keep_their_place_on_the_blank():
    told = Finding(severity=Severity.WARNING, code="flat-or-hollow", message="m", where=Where(x_mm=20, angle_deg=90))
    first = measure(BODY, 5, 70, findings=(told,))
    second = measure(Moved(skin=BODY, motion=FLIP), 15, 75, findings=(told,))
    made = end_for_end(first, second, MARKS)
    assert codes(made)[:2] == ["flat-or-hollow"] * 2
    assert (made.findings[0].where.x_mm, made.findings[0].where.angle_deg) == pytest.approx((110.0, 320.0))
    assert made.findings[1] == told


@pytest.mark.parametrize(("x_off", "angle_off", "said"), [(1.2, 0.0, "1.20 mm"), (0.0, 3.5, "3.5 deg")])
def test_marks_that_disagree_are_refused_with_what_to_do(x_off, angle_off, said):
    m = MARKS[1]
    wrong = Mark(
        first_x_mm=m.first_x_mm,
        first_angle_deg=m.first_angle_deg,
        second_x_mm=m.second_x_mm + x_off,
        second_angle_deg=m.second_angle_deg + angle_off + 360.0,
    )
    halves = measure(BODY, 5, 70), measure(Moved(skin=BODY, motion=FLIP), 15, 75)
    with pytest.raises(BlankError, match=said) as refused:
        end_for_end(*halves, [MARKS[0], wrong])
    assert "read them again" in refused.value.hint
    end_for_end(
        *halves,
        [
            MARKS[0],
            Mark(
                first_x_mm=m.first_x_mm,
                first_angle_deg=m.first_angle_deg,
                second_x_mm=m.second_x_mm + 0.75 * x_off,
                second_angle_deg=m.second_angle_deg + 0.75 * angle_off + 720.0,
            ),
        ],
    )


def test_one_mark_or_one_that_is_no_number_is_refused():
    halves = measure(BODY, 5, 70), measure(Moved(skin=BODY, motion=FLIP), 15, 75)
    with pytest.raises(BlankError, match="1 marks"):
        end_for_end(*halves, MARKS[:1])
    bad = Mark(first_x_mm=float("nan"), first_angle_deg=0, second_x_mm=1, second_angle_deg=1)
    with pytest.raises(BlankError, match="no number"):
        end_for_end(*halves, [MARKS[0], bad])
