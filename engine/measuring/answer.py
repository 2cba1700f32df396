"""What a way of measuring answers, JSON-ready: the blank for a job, the skin to look at, what is to be told.

A skin travels as a table of readings with its sigmas, an asset like any other; the job that uses it names it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import numpy as np

from engine.blank import MOST_ROWS, write_grid
from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding
from engine.measure import Measured, even_angles
from engine.outcome.report import finding_facts

__all__ = ["Answer", "finding_list", "skin_answer"]

SHOWN_STATIONS, SHOWN_ANGLES = 121, 181  # at most: finer than a page's plot, 330 kB of JSON in all
FEWEST_SHOWN = 90  # angles: a section drawn in steps of 4 degrees looks round
SHOWN_READINGS = 4000  # dots that a plot holds before they run into one
LEAST_STATIONS = 5  # that carry a cubic
PLACES = 4  # of decimals: a tenth of a micrometre


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """value : JSON-ready. table : the skin's table, whose sha-256 the blank in `value` names. text : a program."""

    value: Mapping[str, Any]
    table: bytes | None = None
    text: str | None = None


def finding_list(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Findings as the report words them."""
    return [finding_facts(f) for f in findings]


def skin_answer(measured: Measured, *, blank: Mapping[str, Any] | None = None, **more: Any) -> Answer:
    """The answer that holds a skin. blank : the job's blank where it is not the table itself. more : further facts."""
    table = write_grid(*_fitting(measured))
    named = {"shape": "grid", "asset": sha256(table).hexdigest()}
    value = {
        "blank": named if blank is None else dict(blank),
        "sigma_mm": round(measured.spread.rms_mm, PLACES),
        "findings": finding_list(measured.findings),
        "how": [list(pair) for pair in measured.how],
        "skin": _skin_facts(measured),
        "readings": _reading_facts(measured),
    }
    return Answer(value=value | more, table=table if blank is None else None)


def _fitting(measured: Measured) -> tuple[Floats, Floats, Floats]:
    """Stations, radius and sigma: as many stations as a table has room for, on the skin's own cubic where fewer."""
    x, (m, n) = measured.x_mm, measured.radius_mm.shape
    if m * n <= MOST_ROWS:
        return x, measured.radius_mm, measured.sigma_mm
    fewer = np.linspace(x[0], x[-1], MOST_ROWS // n)
    theta = measured.theta_rad
    return fewer, measured.skin().on_grid(fewer, theta), measured.spread.at(fewer[:, None], theta)


def _skin_facts(measured: Measured) -> dict[str, Any]:
    m, n = measured.radius_mm.shape
    rows = np.unique(np.round(np.linspace(0, m - 1, min(m, SHOWN_STATIONS))).astype(np.int64))
    every = next(k for k in range(1, n + 1) if n % k == 0 and n // k <= SHOWN_ANGLES)
    finer = max(1, FEWEST_SHOWN // n)  # a section is drawn as the skin runs, not from reading to reading
    theta = even_angles(n * finer)[::every]
    column = (np.round(np.arange(n * finer) / finer).astype(np.int64) % n)[::every]
    radius, sigma = measured.radius_mm[rows][:, column], measured.sigma_mm[rows][:, column]
    if finer > 1 and m >= LEAST_STATIONS:
        x = measured.x_mm[rows]
        radius, sigma = measured.skin().on_grid(x, theta), measured.spread.at(x[:, None], theta)
    size, towards = measured.runout
    return {
        "x_mm": _rounded(measured.x_mm[rows]),
        "angle_deg": _rounded(np.degrees(theta)),
        "radius_mm": _rounded(radius),
        "sigma_mm": _rounded(sigma),
        "known": measured.known[rows][:, column].astype(np.int64).tolist(),
        "runout_mm": _rounded(size[rows]),
        "runout_deg": _rounded(np.degrees(towards[rows]) % 360.0),
    }


def _reading_facts(measured: Measured) -> dict[str, Any]:
    readings = measured.readings
    names = ("x_mm", "angle_deg", "radius_mm", "residual_mm", "state")
    if readings is None:
        return {name: [] for name in names}
    k = np.unique(np.round(np.linspace(0, len(readings) - 1, min(len(readings), SHOWN_READINGS))).astype(np.int64))
    used = np.ones(len(readings), np.bool_) if measured.used is None else measured.used
    if len(k) < len(readings):  # every one that was left out is shown
        k = np.union1d(k, np.flatnonzero(~used)[:SHOWN_READINGS])
    residual = np.zeros(len(readings)) if measured.residual_mm is None else measured.residual_mm
    columns = (
        _rounded(readings.x_mm[k]),
        _rounded(np.degrees(readings.theta_rad[k]) % 360.0),
        _rounded(readings.radius_mm[k]),
        _rounded(residual[k]),
        ["used" if good else "left out" for good in used[k]],
    )
    return dict(zip(names, columns, strict=True))


def _rounded(values: Floats) -> Any:
    return np.round(values, PLACES).tolist()
