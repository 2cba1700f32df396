"""Diameters of eggs back to the four readings they come from.

The tables are those of the published curve, V. G. Narushin, M. N. Romanov, D. K. Griffin, Ann. N.Y. Acad. Sci. 1505
(2021) 169-177, eq. (5), worked out with mpmath: station / length from the middle, radius.
"""

import numpy as np
import pytest

from engine.blank.ovoid import Ovoid
from engine.kernel.errors import BlankError
from engine.measure.callipers import fit_ovoid

SHARE = np.array([-0.45, -0.40, -0.25, 0, 0.125, 0.25, 0.375, 0.45])
TABLE = {
    (56, 43.5, 1.9, 36): (
        (10.1085755941, 13.8259662027, 19.5426471705, 21.6763483246) + (20.5491321460, 18, 13.4725546125, 8.7748749075)
    ),
    (57, 44, 2, 36.5): (
        (10.2414732324, 13.9975730472, 19.7599009082, 21.9297699427)
        + (20.8104870797, 18.25, 13.6752491620, 8.9126099313)
    ),
    (100, 70, 10, 50): (
        (18.7370135231, 25.2707394399, 33.8221269059, 33.5700881316) + (30.0968395400, 25, 17.8056916292, 11.2765163442)
    ),
}


def four(fit):
    return [fit.length_mm, fit.breadth_mm, fit.shift_mm, fit.quarter_diameter_mm]


@pytest.mark.parametrize("of", TABLE)
@pytest.mark.parametrize("length_read", [True, False])
@pytest.mark.parametrize("blunt_first", [True, False])
def test_the_published_tables_give_back_their_four_readings(of, length_read, blunt_first):
    station = (0.5 + SHARE) * of[0]
    x = station if blunt_first else of[0] - station
    fit = fit_ovoid(x, 2 * np.array(TABLE[of]), float(of[0]) if length_read else None, 0.0)
    assert four(fit) == pytest.approx(of, abs=1e-6)
    assert fit.blunt_first is blunt_first
    assert [f.code for f in fit.findings] == ([] if blunt_first else ["blunt-end-last"])
    assert fit.rms_mm < 1e-7
    assert fit.ovoid.radius(station, np.zeros(1)) == pytest.approx(TABLE[of], abs=1e-6)


def test_the_stated_spreads_are_those_of_many_eggs_read():
    egg = Ovoid(length_mm=56, breadth_mm=43.5, shift_mm=1.9, quarter_diameter_mm=36)
    x = np.linspace(3, 53, 12)
    rng = np.random.default_rng(2)
    fits = [fit_ovoid(x, 2 * egg.radius(x, np.zeros(1)) + rng.normal(0, 0.05, 12), None, 0.05) for _ in range(16)]
    got = np.array([four(f) for f in fits])
    said = np.array(
        [[f.length_sigma_mm, f.breadth_sigma_mm, f.shift_sigma_mm, f.quarter_diameter_sigma_mm] for f in fits]
    )
    off = (got - [56, 43.5, 1.9, 36]) / said
    assert np.sqrt((off**2).mean(axis=0)) == pytest.approx(1.0, abs=0.4)
    assert sum(bool(f.findings) for f in fits) <= 1


def test_a_cone_is_not_egg_like_and_the_worst_reading_is_named():
    x = np.linspace(5, 55, 11)
    fit = fit_ovoid(x, 40 - 0.4 * x, 60.0, 0.05)
    (told,) = (f for f in fit.findings if f.code == "not-egg-like")
    k = int(np.abs(fit.residual_mm).argmax())
    assert told.where.pointer == f"/stations/{k}/diameter_mm" and told.where.x_mm == x[k]


def test_as_many_readings_as_unknowns_leave_nothing_to_judge_by():
    egg = Ovoid(length_mm=56, breadth_mm=43.5, shift_mm=1.9, quarter_diameter_mm=36)
    x = np.array([6.0, 25.0, 45.0])
    fit = fit_ovoid(x, 2 * egg.radius(x, np.zeros(1)), 56.0, 0.05)
    assert [f.code for f in fit.findings if f.code != "blunt-end-last"] == ["no-reading-to-spare"]


@pytest.mark.parametrize(
    ("x", "d", "length", "sigma", "where"),
    [
        ([5, 20, 40], [20, 30, 30], None, 0.05, "/stations"),
        ([5, -1, 40, 50], [20, 30, 30, 20], None, 0.05, "/stations/1/x_mm"),
        ([5, 20, 40, 50], [20, 30, np.nan, 20], None, 0.05, "/stations/2/diameter_mm"),
        ([5, 20, 40, 50], [20, 30, 30, 20], 45.0, 0.05, "/length_mm"),
        ([5, 20, 40, 50], [20, 30, 30, 20], 60.0, -1.0, "/sigma_mm"),
        ([20, 20, 20, 20], [30, 30, 30, 30], 60.0, 0.05, "/stations"),
    ],
)
def test_impossible_readings_are_refused_where_they_stand(x, d, length, sigma, where):
    with pytest.raises(BlankError) as caught:
        fit_ovoid(x, d, length, sigma)
    assert caught.value.where == where and caught.value.hint


def test_stations_from_the_middle_alone_are_said_not_to_tell_the_egg():
    egg = Ovoid(length_mm=62, breadth_mm=45, shift_mm=1.9, quarter_diameter_mm=37)
    for x, said in ((np.array([20.0, 25, 30, 35]), True), (np.linspace(4, 58, 9), False)):
        found = [f for f in fit_ovoid(x, 2 * egg.radius(x, np.zeros(1)), None, 0.05).findings if f.code == "egg-unsure"]
        assert bool(found) is said
        assert not said or ("the length within" in found[0].message and found[0].severity.value == "warning")


def test_a_slipped_decimal_is_named_by_its_row():
    egg = Ovoid(length_mm=62, breadth_mm=45, shift_mm=1.9, quarter_diameter_mm=37)
    x = np.linspace(58, 4, 9)
    d = 2 * egg.radius(x, np.zeros(1))
    d[3] *= 10
    (told,) = (f for f in fit_ovoid(x, d, 62.0, 0.05).findings if f.code == "slipped-decimal")
    assert told.where.pointer == "/stations/3/diameter_mm"
