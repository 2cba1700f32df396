"""What is being engraved: the skin r(x, theta), however it was learnt."""

from engine.blank.csv_rows import MOST_ROWS, rows_of
from engine.blank.grid import check_grid, read_grid, write_grid
from engine.blank.meridian import Meridian
from engine.blank.ovoid import Ovoid
from engine.blank.shapes import Cone, Cylinder
from engine.blank.skin import Skin, metric, tilt_cos
from engine.blank.spline import Frame, Sampled, sample, sigma_at, spline_at
from engine.blank.spline_row import bend_at, row_of
from engine.blank.spread import SURE, Spread
from engine.blank.stations import Stations

__all__ = [
    "MOST_ROWS",
    "SURE",
    "Cone",
    "Cylinder",
    "Frame",
    "Meridian",
    "Ovoid",
    "Sampled",
    "Skin",
    "Spread",
    "Stations",
    "bend_at",
    "check_grid",
    "metric",
    "read_grid",
    "row_of",
    "rows_of",
    "sample",
    "sigma_at",
    "spline_at",
    "tilt_cos",
    "write_grid",
]
