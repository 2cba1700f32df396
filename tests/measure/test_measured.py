"""The value that every way of measuring gives."""

from dataclasses import replace

import numpy as np
import pytest

from engine.blank import sigma_at
from engine.kernel.errors import BlankError
from engine.measure import Measured, Readings, even_angles


def measured(radius):
    m, n = radius.shape
    sigma = np.full((m, n), 0.01)
    return Measured(x_mm=np.linspace(0, 10, m), radius_mm=radius, sigma_mm=sigma, known=np.ones((m, n), bool))


def test_a_circle_off_the_axis_runs_out_by_its_offset_and_towards_it():
    theta = even_angles(360)
    section = np.cos(theta - 0.7) + np.sqrt(25.0**2 - np.sin(theta - 0.7) ** 2)  # circle R 25, 1 mm off centre
    size, towards = measured(np.stack([section, section])).runout
    assert size == pytest.approx([1.0, 1.0], abs=1e-9) and towards == pytest.approx([0.7, 0.7], abs=1e-9)


def test_what_was_measured_cannot_be_changed_afterwards():
    radius = np.full((3, 8), 20.0)
    value = measured(radius)
    radius[0, 0] = 5.0
    assert value.radius_mm[0, 0] == 20.0
    readings = Readings(x_mm=[1.0, 2.0], theta_rad=[0.0, 1.0], radius_mm=[5.0, 6.0], sigma_mm=[0.1, 0.1])
    value = replace(value, readings=readings, residual_mm=np.zeros(2), used=np.ones(2, bool))
    for array in (value.radius_mm, value.sigma_mm, value.known, value.x_mm, value.residual_mm, value.used):
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0


def test_every_reading_has_one_residual_and_is_used_or_not():
    value = measured(np.full((3, 8), 20.0))
    for more in ({"residual_mm": np.zeros(2)}, {"used": np.ones(1, bool)}):
        with pytest.raises(ValueError, match="for each reading"):
            replace(value, **more)


def test_readings_of_other_lengths_or_not_finite_are_refused():
    good = {"x_mm": [1.0, 2.0], "theta_rad": [0.0, 1.0], "radius_mm": [5.0, 6.0], "sigma_mm": [0.1, 0.1]}
    assert len(Readings(**good)) == 2
    for name in good:
        for wrong in ([1.0], [np.nan, 1.0]):
            with pytest.raises(BlankError, match=name if len(wrong) == 2 else "not a list"):
                Readings(**{**good, name: wrong})


def test_its_skin_runs_through_the_grid_and_is_as_sure_as_that_or_as_one_figure():
    x, theta = np.linspace(0, 10, 9), even_angles(16)
    value = measured(20 + 0.1 * x[:, None] + 0.2 * np.cos(theta))
    value = replace(value, sigma_mm=np.broadcast_to(np.linspace(0.01, 0.05, 9)[:, None], (9, 16)))
    skin = value.skin()
    assert skin.radius(x[:, None], theta) == pytest.approx(value.radius_mm, abs=1e-9)
    assert sigma_at(skin, x[:, None], theta) == pytest.approx(value.sigma_mm, abs=1e-12)
    assert skin.sigma_mm == value.spread.rms_mm == pytest.approx(np.sqrt(np.mean(np.linspace(0.01, 0.05, 9) ** 2)))
    assert sigma_at(value.skin(0.0), x[:, None], theta).max() == 0.0 and value.skin(0.3).sigma_mm == 0.3
