"""Scattered readings and grids with missing cells, from the table to one smooth skin that says how sure it is."""

from engine.measure.surface.filling import fill_grid
from engine.measure.surface.fitting import fit_readings
from engine.measure.surface.table import Grid, Table, read_table

__all__ = ["Grid", "Table", "fill_grid", "fit_readings", "read_table"]
