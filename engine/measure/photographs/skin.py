"""Photographs' found edges to one measured skin: read aloud, this is how."""

from collections.abc import Sequence

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Measured, Readings, even_angles
from engine.measure.photographs.camera import Setup
from engine.measure.photographs.edge import Edge
from engine.measure.photographs.fit import Linear, State, linearised
from engine.measure.photographs.holders import about_holders, holders_in_words
from engine.measure.photographs.hollows import depth_sigma, disputed_sigma, hollows, joined
from engine.measure.photographs.rays import edge_points
from engine.measure.photographs.search import angles_read_otherwise, still_or_moved
from engine.measure.photographs.sureness import sureness, surface
from engine.measure.photographs.told import (
    about_angles,
    about_edges,
    about_places,
    about_setup,
    in_words,
    lens_in_words,
    places_known,
)

__all__ = ["skin_from_edges"]

_OUTLINE_MM = 0.8  # of outline that one edge point is the mean of


def skin_from_edges(
    edges: Sequence[Edge], angles_deg: Sequence[float], setup: Setup, *, step_mm: float = 1.0, angles: int = 180
) -> Measured:
    """The skin that touches every sight line along the found edges, and the set-up's corrections with it.

    Parameters
    ----------
    edges : from `find_edge`, one a photograph; those with an error finding are left out.
    angles_deg : where the rotary stood. setup : camera, lens, marks, and how well each is known.
    step_mm, angles : of the grid that is given.

    Returns
    -------
    Measured : readings are the contacts of the sight lines, photograph by photograph. One photograph gives a body of
    revolution. `known` is False in flat or hollow places, beyond the seen ends, and where no outline is.

    Raises
    ------
    BlankError : counts that differ, mixed sizes, no usable edge.
    """
    points = edge_points(edges, angles_deg, setup, step_mm=_OUTLINE_MM)
    problem, state = still_or_moved(edges, points, setup)
    row = linearised(problem, state, settled=True)
    x = np.linspace(0.0, setup.length_mm, max(2, round(setup.length_mm / step_mm) + 1))
    theta = even_angles(angles)
    sure = sureness(problem, state, row, x, theta)
    hollow = hollows(row, points, setup.length_mm)
    places = (x[:, None], theta[None, :])
    unsure = np.maximum(depth_sigma(hollow, *places), disputed_sigma(row, points, *places))
    radius = surface(state, x, theta)[0]
    findings = [
        *points.findings,
        *about_setup(state.corrections),
        *about_holders(problem.holders),
        *about_edges(problem, row),
        *about_places(problem, row, joined(hollow)),
    ]
    if {"photos-disagree", "angles-moved"} & {one.code for one in findings}:
        findings += about_angles(angles_read_otherwise(edges, points, setup))
    readings, residual, used = _readings(state, row)
    return Measured(
        x_mm=x,
        radius_mm=radius,
        sigma_mm=np.maximum(sure.sigma_mm, unsure),
        known=places_known(problem, row, (unsure > 0.0) | (radius <= 0.0), x, theta),
        findings=tuple(findings),
        how=(*in_words(state, sure, row), *holders_in_words(problem.holders), lens_in_words(setup)),
        readings=readings,
        residual_mm=residual,
        used=used,
    )


def _readings(state: State, row: Linear) -> tuple[Readings, Floats, Bools]:
    """The contacts as readings of r, how far each lies from the skin, and whether the fit trusted it."""
    touch = row.touch
    at = touch.touching
    r = np.sqrt(np.maximum(state.skin.q(touch.x_mm[at], touch.theta_rad[at])[0], 0.0))
    readings = Readings(
        x_mm=touch.x_mm[at],
        theta_rad=np.mod(touch.theta_rad[at], TURN_RAD),
        radius_mm=touch.rho_mm[at],
        sigma_mm=np.full(int(at.sum()), row.scale_mm),
    )
    return readings, touch.rho_mm[at] - r, row.trust[at] > 0.3
