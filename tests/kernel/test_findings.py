"""Places that findings speak of."""

from math import pi, radians

import pytest

from engine.kernel.findings import Where


@pytest.mark.parametrize(
    ("theta_rad", "angle_deg"),
    [(0.0, 0.0), (radians(-90.0), 270.0), (5.0 * pi, 180.0), (-1e-9, 0.0), (radians(359.9996), 0.0)],
)
def test_a_place_of_the_skin_is_told_within_one_turn(theta_rad: float, angle_deg: float) -> None:
    """Also where rounding would bring it to 360."""
    assert Where.on_skin(12.34567, theta_rad, pointer="/artwork/0") == Where(
        pointer="/artwork/0", x_mm=12.346, angle_deg=angle_deg
    )
