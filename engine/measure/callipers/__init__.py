"""Callipers: diameters at stations, round or oval, and an egg's many diameters to its published curve."""

from engine.measure.callipers.oval import ellipse_radius, stations_skin
from engine.measure.callipers.ovoid_fit import OvoidFit, fit_ovoid

__all__ = ["OvoidFit", "ellipse_radius", "fit_ovoid", "stations_skin"]
