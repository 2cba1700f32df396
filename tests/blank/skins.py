"""One of every kind of blank, for the suites that every skin must pass. The measures are made up, for the fair."""

import numpy as np

from engine.blank import Cone, Cylinder, Ovoid, Stations, read_grid, sample


def gourd_csv(nx=41, nt=72, off_mm=1.5):
    x = np.linspace(5.0, 125.0, nx)
    theta = np.arange(nt) * (360.0 / nt)
    t = np.radians(theta)
    r = 24 + 11 * np.sin(x[:, None] / 30 - 0.6) + np.cos(3 * t)[None, :] + off_mm * np.cos(t - 1)[None, :]
    lines = ["x_mm,angle_deg,radius_mm"]
    lines += [f"{x[i]:.6f},{theta[j]:.6f},{r[i, j]:.9f}" for i in range(nx) for j in range(nt)]
    return "\n".join(lines).encode()


SKINS = {
    "cylinder": Cylinder(diameter_mm=40, length_mm=90),
    "cone": Cone(diameter_mm=60, end_diameter_mm=40, length_mm=60),
    "ovoid": Ovoid(length_mm=57, breadth_mm=44, shift_mm=2, quarter_diameter_mm=36.5),
    "stations": Stations(x_mm=np.array([0.0, 12, 30, 55, 90]), diameter_mm=np.array([30.0, 44, 61, 61, 28])),
    "grid": read_grid(gourd_csv()),
}
SKINS["sampled"] = sample(SKINS["stations"], 5.0, 80.0)


def in_space(skin, x, theta):
    """(n, 3) places of the skin: along the axis, and across it at angle 0 and a quarter turn on."""
    r = skin.radius(x, theta)
    return np.stack([x, r * np.cos(theta), r * np.sin(theta)], axis=1)
