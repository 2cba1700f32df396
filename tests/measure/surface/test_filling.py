"""Grids with missing cells: readings kept, the rest filled near the truth, and everything filled is told and marked."""

import numpy as np
import pytest

from engine.kernel.errors import BlankError
from engine.measure.surface import fill_grid
from tests.measure.surface.skins import bottle, gourd, off_truth

X = np.linspace(4, 116, 20)
ANGLE = np.arange(24) * 15.0


def cells(skin, x=X, angle=ANGLE, *, noise=0.02, seed=1):
    rng = np.random.default_rng(seed)
    return skin(x[:, None], np.radians(angle)[None, :]) + rng.normal(0, noise, (len(x), len(angle)))


@pytest.mark.parametrize("skin", [gourd, bottle])
def test_readings_are_kept_and_one_cell_in_ten_is_filled_within_its_error(skin):
    radius = cells(skin)
    away = np.random.default_rng(2).random(radius.shape) < 0.1
    away[5] |= np.arange(24) < 2
    holed = np.where(away, np.nan, radius)
    got = fill_grid(X, ANGLE, holed)
    assert got.radius_mm.shape == (20, 24)
    assert got.radius_mm[~away] == pytest.approx(radius[~away], abs=1e-10)
    assert (got.known == ~away).all()
    error = (off_truth(got, skin) / got.sigma_mm)[away]
    assert 0.5 < np.sqrt((error**2).mean()) < 1.5
    assert np.sqrt((off_truth(got, skin)[away] ** 2).mean()) < 0.06
    (told,) = (f for f in got.findings if f.code == "filled")
    assert told.message.startswith(f"{away.sum()} of 480 cells") and told.severity.value == "warning"
    worst = np.unravel_index(np.where(away, got.sigma_mm, 0).argmax(), away.shape)
    assert (told.where.x_mm, told.where.angle_deg) == pytest.approx((X[worst[0]], ANGLE[worst[1]]))


def test_a_whole_grid_stays_as_it_is_and_tells_nothing():
    radius = cells(gourd)
    got = fill_grid(X, ANGLE, radius)
    assert got.radius_mm == pytest.approx(radius, abs=1e-10) and got.known.all() and not got.findings
    assert got.sigma_mm.mean() == pytest.approx(0.02, rel=0.25)


def test_uneven_stations_and_angles_become_even_and_still_meet_the_readings():
    x = np.array([0.0, 5, 12, 20, 25, 33, 40, 50, 58, 66, 75, 80])
    angle = np.array(
        [2.0, 15, 32, 44, 60, 77, 90, 107, 120, 135, 150, 165, 180, 200, 220, 240, 260, 280, 300, 320, 340]
    )
    radius = cells(bottle, x, angle)
    radius[4, 6] = np.nan
    got = fill_grid(x, angle, radius)
    assert len(got.x_mm) == 17 and np.ptp(np.diff(got.x_mm)) < 1e-9  # 80 mm in steps of 5
    assert got.radius_mm.shape[1] == 30  # the closest two angles are 12 degrees apart
    i, j = int(np.abs(got.x_mm - 50).argmin()), 5  # 60 degrees: a reading stands there
    assert got.radius_mm[i, j] == pytest.approx(radius[7, 4], abs=1e-9)
    assert np.sqrt((off_truth(got, bottle) ** 2).mean()) < 0.03
    assert not got.known[5, 7] and got.known[i, j]  # x 25, angle 84 leans on the missing cell


def test_a_wild_reading_is_kept_told_and_does_not_spoil_its_missing_neighbour():
    radius = cells(gourd)
    radius[10, 10] += 2.0
    kept = radius[10, 10]
    radius[10, 11] = np.nan
    got = fill_grid(X, ANGLE, radius)
    assert got.radius_mm[10, 10] == pytest.approx(kept, abs=1e-9) and got.sigma_mm[10, 10] > 1.0
    assert abs(off_truth(got, gourd)[10, 11]) < 4 * got.sigma_mm[10, 11] < 0.5
    (told,) = (f for f in got.findings if f.code == "outliers")
    assert "kept" in told.message and told.severity.value == "warning"
    assert told.where.angle_deg == pytest.approx(150)


def test_stated_errors_are_the_readings_own():
    sigma = np.full((20, 24), 0.02)
    sigma[:, :12] = 0.04
    got = fill_grid(X, ANGLE, cells(gourd), sigma_mm=sigma)
    assert got.sigma_mm[:, :12].mean() == pytest.approx(2 * got.sigma_mm[:, 12:].mean(), rel=0.2)


def missing(radius, *places):
    holed = radius.copy()
    for place in places:
        holed[place] = np.nan
    return holed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda r: (X, ANGLE, missing(r, slice(1, 12))), "264 of 480 cells are missing"),
        (lambda r: (X, ANGLE, missing(r, 0)), "end station x 4 is missing"),
        (lambda r: (X, ANGLE, missing(r, 19)), "end station x 116 is missing"),
        (lambda r: (X[:4], ANGLE, r[:4]), "4 stations and 24 angles are too few"),
        (lambda r: (X, ANGLE[:7], r[:, :7]), "20 stations and 7 angles are too few"),
        (lambda r: (X[::-1], ANGLE, r), "must rise"),
        (lambda r: (X, ANGLE + 20, r), "must rise"),
        (lambda r: (X, ANGLE, r[:, :20]), "not one for every"),
        (lambda r: (X, ANGLE, np.where(np.arange(24) == 3, -1.0, r)), "at x 4, angle 45 is not above 0"),
    ],
)
def test_what_cannot_be_filled_is_refused_with_what_to_do(change, words):
    with pytest.raises(BlankError, match=words) as caught:
        fill_grid(*change(cells(gourd)))
    assert caught.value.hint and caught.value.where == "/asset"


def test_a_wedge_without_readings_is_no_surer_than_its_distance_from_them_allows():
    def wavy(x, theta):
        return 25 + 0.1 * x + 1.2 * np.cos(theta - 0.7) + 0.8 * np.sin(3 * theta) + 0.5 * np.sin(x / 9 + 2 * theta)

    holed = cells(wavy, noise=0.0)
    holed[:, (ANGLE > 150) & (ANGLE < 210)] = np.nan
    got = fill_grid(X, ANGLE, holed)
    middle = got.sigma_mm[:, 12]  # 180 degrees, 30 from a reading on either side
    assert (middle > 0.05 * np.radians(30) * 24).all()
    assert np.sqrt(((off_truth(got, wavy)[:, 12] / middle) ** 2).mean()) < 3
    assert got.sigma_mm[:, 8].max() < 0.1  # beside the wedge nothing changes
    (told,) = (f for f in got.findings if f.code == "filled")
    assert told.severity.value == "warning" and told.where.angle_deg == 180
    assert f"within {middle.max():.3f} mm" in told.message


def test_few_cells_are_a_warning_where_they_lie_far_from_any_reading_and_a_note_elsewhere():
    radius = cells(gourd)
    near, far = radius.copy(), radius.copy()
    near[10, 10:13:2] = np.nan
    far[9:12, 10:13] = np.nan
    severity = [
        next(f for f in fill_grid(X, ANGLE, holed).findings if f.code == "filled").severity.value
        for holed in (near, far)
    ]
    assert severity == ["note", "warning"]


def test_a_grid_of_few_angles_says_which_lobes_are_not_seen():
    angle = np.arange(8) * 45.0
    got = fill_grid(X, angle, cells(bottle, angle=angle))
    (told,) = (f for f in got.findings if f.code == "few-angles")
    assert "lobes of more than 4 a turn" in told.message and told.severity.value == "warning"
