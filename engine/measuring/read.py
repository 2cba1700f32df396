"""Diameters read by callipers, and readings in tables: each becomes one skin with what is left of every reading."""

from dataclasses import replace

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.measure import Readings
from engine.measure.callipers import fit_ovoid, stations_skin
from engine.measure.surface import fill_grid, fit_readings, read_table
from engine.measuring.answer import Answer, skin_answer
from engine.measuring.documents import CallipersDocument, GridTableDocument, OvoidFitDocument
from engine.measuring.skins import measured_of
from engine.measuring.way import Around

__all__ = ["egg_by_callipers", "skin_of_table", "stations_by_callipers"]


def stations_by_callipers(asked: CallipersDocument, around: Around) -> Answer:
    """The skin through calliper stations, round or oval. A round one is answered as stations, which stay editable."""
    x, diameter, across = _columns(asked)
    measured = stations_skin(x, diameter, across, asked.reading_error_mm)
    if not np.isnan(across).all():
        return skin_answer(measured)
    stations = [{"x_mm": s.x_mm, "diameter_mm": s.diameter_mm} for s in asked.stations]
    return skin_answer(
        measured,
        blank={
            "shape": "stations",
            "stations": stations,
            "radius_error_mm": round(min(max(measured.spread.rms_mm, 1e-4), MOST_ERROR_MM), 4),
        },
    )


def egg_by_callipers(asked: OvoidFitDocument, around: Around) -> Answer:
    """The egg of the published four-reading curve that comes nearest to calliper stations, and what it leaves."""
    x, diameter, _ = _columns(asked)
    found = fit_ovoid(x, diameter, asked.length_mm, asked.reading_error_mm)
    egg = found.ovoid
    station = x if found.blunt_first else found.length_mm - x
    none = np.zeros(len(x))
    readings = Readings(x_mm=station, theta_rad=none, radius_mm=0.5 * diameter, sigma_mm=none)
    values = {
        name: round(getattr(found, name), 4) for name in ("length_mm", "breadth_mm", "shift_mm", "quarter_diameter_mm")
    }
    sigmas = {name: getattr(found, name.replace("_mm", "_sigma_mm")) for name in values}
    how = [(_WORDS[name], f"{values[name]:.3f} mm, give or take {sigmas[name]:.3f}") for name in values]
    how.append(("left over", f"{found.rms_mm:.3f} mm of diameter (root mean square)"))
    if not found.blunt_first:
        how.append(("turned", "the stations were read from the pointed end; the curve's count from the blunt one"))
    across = [k for k, station in enumerate(asked.stations) if station.across_mm is not None]
    told = [_not_used(across[0], len(across))] if across else []
    unsure = [0.5 * sigma for sigma in sigmas.values()] + [egg.sigma_mm, 0.5 * asked.reading_error_mm]
    error = round(min(max(*unsure, 1e-4), MOST_ERROR_MM), 4)  # one figure for the skin and the blank that tells it
    measured = replace(
        measured_of(replace(egg, sigma_mm=error)),
        readings=readings,
        residual_mm=0.5 * found.residual_mm,
        how=tuple(how),
        findings=(*found.findings, *told),
    )
    return skin_answer(measured, blank={"shape": "ovoid", **values, "radius_error_mm": error})


def skin_of_table(asked: GridTableDocument, around: Around) -> Answer:
    """The skin through a table's readings: of a grid through every one of them, else a smooth one near all of them."""
    in_radians = asked.angle_unit == "radians"
    table = read_table(
        around.assets[asked.asset],
        columns=asked.columns.named(in_radians=in_radians),
        angle_unit="rad" if in_radians else "deg",
    )
    if table.grid is None:
        measured = fit_readings(table.readings)
    else:
        grid = table.grid
        measured = fill_grid(grid.x_mm, grid.angle_deg, grid.radius_mm, sigma_mm=grid.sigma_mm)
    return skin_answer(measured.with_findings(table.findings))


MOST_ERROR_MM = 100.0  # what a blank's document takes
_WORDS = {
    "length_mm": "length",
    "breadth_mm": "breadth",
    "shift_mm": "shift of the breadth",
    "quarter_diameter_mm": "diameter a quarter from the point",
}


def _not_used(first: int, count: int) -> Finding:
    return Finding(
        severity=Severity.WARNING,
        code="across-not-used",
        message=f"{count} diameters at right angles are not used: the egg's curve is round",
        advice="measure it as stations where its section is oval",
        where=Where(pointer=f"/stations/{first}/across_mm"),
    )


def _columns(asked: CallipersDocument) -> tuple[Floats, Floats, Floats]:
    """Stations, diameters, and those at right angles, NaN where there are none."""
    x, diameter = (np.array([getattr(s, name) for s in asked.stations]) for name in ("x_mm", "diameter_mm"))
    across = np.array([np.nan if s.across_mm is None else s.across_mm for s in asked.stations])
    return x, diameter, across
