"""Scattered readings and grids with missing cells, from the table to one smooth skin that says how sure it is."""

from engine.measure.surface.fitting import fit_readings

__all__ = ["fit_readings"]
