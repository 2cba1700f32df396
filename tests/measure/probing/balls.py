"""Skins that a ball can be laid on in closed form: where its centre stands over a place, and where it touches."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq


@dataclass
class Cone:
    """r = radius + slope x: the centre stands ball * sqrt(1 + slope**2) over the skin."""

    radius: float
    slope: float

    def centre(self, x, theta, ball):
        return self.radius + self.slope * x + ball * math.sqrt(1 + self.slope**2)

    def radius_at(self, x, theta):
        return self.radius + self.slope * x + 0.0 * theta

    def slopes(self, x, theta):
        return np.full(np.shape(x), self.slope), np.zeros(np.shape(x))


@dataclass
class OffCentre:
    """A cylinder whose axis lies `off` mm beside that of rotation: the centre stands on the same, wider by the ball."""

    radius: float
    off: float
    towards: float

    def centre(self, x, theta, ball):
        return OffCentre(self.radius + ball, self.off, self.towards).radius_at(x, theta)

    def radius_at(self, x, theta):
        t = theta - self.towards
        return self.off * np.cos(t) + np.sqrt(self.radius**2 - (self.off * np.sin(t)) ** 2) + 0.0 * x

    def slopes(self, x, theta):
        t = theta - self.towards
        root = np.sqrt(self.radius**2 - (self.off * np.sin(t)) ** 2)
        return np.zeros(np.shape(t)), -self.off * np.sin(t) - self.off**2 * np.sin(t) * np.cos(t) / root


@dataclass
class Spheroid:
    """Half axes `along` and `across`: the centre is sought on the meridian's parallel curve."""

    along: float
    across: float
    middle: float

    def centre(self, x, theta, ball):
        def place(t):
            n = np.array([math.cos(t) / self.along, math.sin(t) / self.across])
            n /= math.hypot(*n)
            return self.middle + self.along * math.cos(t) + ball * n[0], self.across * math.sin(t) + ball * n[1]

        return place(brentq(lambda t: place(t)[0] - x, 1e-9, math.pi - 1e-9, xtol=1e-15, rtol=1e-15))[1]

    def radius_at(self, x, theta):
        return self.across * np.sqrt(1 - ((x - self.middle) / self.along) ** 2) + 0.0 * theta

    def slopes(self, x, theta):
        u = (x - self.middle) / self.along
        return -self.across / self.along * u / np.sqrt(1 - u**2), np.zeros(np.shape(x))


SKINS = [Cone(15.0, 0.2), Cone(40.0, -0.3), OffCentre(22.0, 1.5, 0.7), OffCentre(18.0, 4.0, -2.0), Spheroid(60, 24, 50)]
