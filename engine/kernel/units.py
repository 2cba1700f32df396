"""What the house measures with, in its own units."""

from math import pi

__all__ = ["INCH_MM", "TURN_DEG", "TURN_RAD"]

TURN_RAD, TURN_DEG = 2.0 * pi, 360.0  # once round the axis
INCH_MM = 25.4  # exact: the international yard of 1959 is 0.9144 m (NIST SP 811, B.6)
