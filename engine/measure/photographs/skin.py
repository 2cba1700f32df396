"""Photographs' found edges to one measured skin: read aloud, this is how."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.measure.measured import Measured, Readings, even_angles
from engine.measure.photographs.camera import Setup
from engine.measure.photographs.edge import Edge
from engine.measure.photographs.fit import Linear, Problem, State, linearised, problem_of, started, stepped
from engine.measure.photographs.hollows import depth_sigma, hollows, joined
from engine.measure.photographs.rays import EdgePoints, edge_points
from engine.measure.photographs.smoothing import smoothed
from engine.measure.photographs.sureness import sureness, surface
from engine.measure.photographs.told import (
    about_edges,
    about_places,
    about_setup,
    in_words,
    lens_in_words,
    places_known,
)
from engine.measure.spline import Smoothing

__all__ = ["skin_from_edges"]

_OUTLINE_MM = 0.8  # of outline that one edge point is the mean of
# Weights of the penalties: safe for a first guess that may be wrong by a millimetre; so slight that they cost less than
# any correction; where the search for the best begins.
_FIRST = Smoothing(along=1e-2, around=1e-1)
_DENSE = 36  # photographs from which 1e-3 is slight; a ripple between fewer of them is smoothed as the sixth power
_LIKELY = Smoothing(along=1e-2, around=1e-2)
_FEW = 8  # photographs, below which fewer splines go round
_AS_WELL = 2.0  # times what an edge is known to: noise and a stand that sways by less cost less than correcting them
_STILL_MM = 2e-4  # a step below this ends the search


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
    problem, state = _still_or_moved(points, setup)
    row = linearised(problem, state, settled=True)
    x = np.linspace(0.0, setup.length_mm, max(2, round(setup.length_mm / step_mm) + 1))
    theta = even_angles(angles)
    sure = sureness(problem, state, row, x, theta)
    hollow = hollows(row, points.photos, setup.length_mm)
    unsure = depth_sigma(hollow, x[:, None], theta[None, :])
    radius = surface(state, x, theta)[0]
    findings = [
        *points.findings,
        *about_setup(state.corrections),
        *about_edges(problem, row),
        *about_places(problem, row, joined(hollow)),
    ]
    readings, residual, used = _readings(state, row)
    return Measured(
        x_mm=x,
        radius_mm=radius,
        sigma_mm=np.maximum(sure.sigma_mm, unsure),
        known=places_known(problem, row, (unsure > 0.0) | (radius <= 0.0), x, theta),
        findings=tuple(findings),
        how=(*in_words(state, sure, row), lens_in_words(setup)),
        readings=readings,
        residual_mm=residual,
        used=used,
    )


def _still_or_moved(points: EdgePoints, setup: Setup) -> tuple[Problem, State]:
    """The skin of a camera and a rotary that stood as told, where it foretells photographs that were left out as well
    as an edge can be placed; else the skin with a correction for each photograph.

    A few photographs cannot part a camera that moved from a piece that is not round: what they do not ask for is not
    to be corrected.
    """
    still = problem_of(points, replace(setup, angle_sigma_deg=0.0, wobble_sigma_mm=0.0))
    state = _searched(still)
    if points.photos == 1 or state.foretold_mm < _AS_WELL * setup.edge_sigma_px * setup.mm_per_px:
        return still, state
    moved = problem_of(points, setup)
    return moved, _searched(moved)


def _searched(problem: Problem) -> State:
    """The set-up's corrections first, with a skin smoothed so little that smoothing cannot settle them; then, with
    those held, the smoothing that foretells best, and the skin.
    """
    sparse = (_DENSE / min(max(problem.points.photos, _FEW), _DENSE)) ** 6
    state = started(problem, replace(_FIRST, around=max(_FIRST.around, 1e-2 * sparse)))
    for i in range(6):
        state = stepped(problem, state, correct=i >= 2, settled=False)
    state = replace(state, smoothing=Smoothing(along=1e-3, around=1e-3 * sparse))
    for i in range(9):
        state = stepped(problem, state, correct=True, settled=i >= 5)
        if i >= 2:
            state = replace(state, corrections=state.corrections.learned())
            if state.moved_mm < _STILL_MM and i >= 5:
                break
    state = smoothed(problem, replace(state, smoothing=_LIKELY), (2.0, 1.0))
    for _ in range(4):
        state = stepped(problem, state, correct=False, settled=True)
        if state.moved_mm < _STILL_MM:
            break
    return state


def _readings(state: State, row: Linear) -> tuple[Readings, Floats, Bools]:
    """The contacts as readings of r, how far each lies from the skin, and whether the fit trusted it."""
    touch = row.touch
    at = touch.touching
    r = np.sqrt(np.maximum(state.skin.q(touch.x_mm[at], touch.theta_rad[at])[0], 0.0))
    readings = Readings(
        x_mm=touch.x_mm[at],
        theta_rad=np.mod(touch.theta_rad[at], 2.0 * np.pi),
        radius_mm=touch.rho_mm[at],
        sigma_mm=np.full(int(at.sum()), row.scale_mm),
    )
    return readings, touch.rho_mm[at] - r, row.trust[at] > 0.3
