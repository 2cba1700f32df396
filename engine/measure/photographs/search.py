"""The search for the skin: first as if the camera and the rotary had stood as told, then with what may have moved."""

import math
from collections.abc import Sequence
from dataclasses import replace

from engine.measure.photographs.camera import Setup
from engine.measure.photographs.edge import Edge
from engine.measure.photographs.fit import Problem, State, problem_of, started, stepped
from engine.measure.photographs.holders import holders_of
from engine.measure.photographs.rays import ALL_ROUND, EdgePoints
from engine.measure.photographs.smoothing import smoothed
from engine.measure.spline import Smoothing

__all__ = ["angles_read_otherwise", "still_or_moved"]

# Weights of the penalties: safe for a first guess that may be wrong by a millimetre; so slight that they cost less than
# any correction; where the search for the best begins. Chosen by trial.
_FIRST = Smoothing(along=1e-2, around=1e-1)
_SLIGHT = Smoothing(along=1e-3, around=1e-3)
_LIKELY = Smoothing(along=1e-2, around=1e-2)
_DENSE = 36  # photographs that see every ripple of the splines; between fewer of them more has to be smoothed
_AS_WELL = 2.0  # times what an edge is known to: noise and a stand that sways by less cost less than correcting them
_HOPELESS = 4.0  # times that: a first skin that edges lie farther from will not come as near when it is finished
_FAR_BETTER = 0.5  # of the distance between outlines and skin
_STILL_MM = 2e-4  # a step below this ends the search


def still_or_moved(edges: Sequence[Edge], points: EdgePoints, setup: Setup) -> tuple[Problem, State]:
    """The skin of a camera and a rotary that stood as told, where it foretells photographs that were left out as well
    as an edge can be placed, or most edges lie on it as near: what a few of them say otherwise is a flat of the piece
    or a poor photograph, not a stand that moved. Else the skin with a correction for each photograph.

    A few photographs cannot part a camera that moved from a piece that is not round: what they do not ask for is not
    to be corrected.
    """
    fixed = replace(setup, angle_sigma_deg=0.0, wobble_sigma_mm=0.0, holder_sigma_mm=None)
    still = problem_of(points, holders_of(edges, points, fixed), fixed)
    near = _near(setup)
    state = _begun(still)
    if points.photos == 1 or state.scale_mm < _HOPELESS * near:
        state = _settled(still, state)
        if points.photos == 1 or state.foretold_mm < near or state.scale_mm < near:
            return still, state
    moved = problem_of(points, holders_of(edges, points, setup), setup)
    return moved, _settled(moved, _begun(moved))


def _near(setup: Setup) -> float:
    return _AS_WELL * setup.edge_sigma_px * setup.mm_per_px


def angles_read_otherwise(edges: Sequence[Edge], points: EdgePoints, setup: Setup) -> float:
    """By what the angles have to be multiplied for the outlines to agree far better: -1 or 2; 1 where nothing is
    gained. For outlines that disagree: each trial is a search of its own. Seen from far away a piece and its mirror
    image that turns the other way look alike: without the camera's distance nothing is tried. Half is not tried
    either: outlines of half a turn are all seen once, and agree whatever is wrong.
    """
    facing = math.radians(setup.camera_deg)

    def missed(factor: float) -> float:
        tried = replace(points, beta_rad=facing + factor * (points.beta_rad - facing))
        return _begun(problem_of(tried, holders_of(edges, tried, setup), setup)).scale_mm

    if setup.camera_mm is None:
        return 1.0
    told = missed(1.0)
    least, factor = min((missed(factor), factor) for factor in (-1.0, 2.0))
    return factor if least < min(_FAR_BETTER * told, _HOPELESS * _near(setup)) else 1.0


def _begun(problem: Problem) -> State:
    """A first skin, and the set-up's corrections to it."""
    around = max(_FIRST.around, 0.1 * _FIRST.around * _between(problem))
    state = started(problem, replace(_FIRST, around=around))
    for i in range(6):
        state = stepped(problem, state, correct=i >= 2, settled=False)
        if state.moved_mm < _STILL_MM:
            break
    return state


def _settled(problem: Problem, state: State) -> State:
    """The set-up's corrections, with a skin smoothed so little that smoothing cannot settle them; then, with those
    held, the smoothing that foretells best, and the skin.
    """
    slight = replace(_SLIGHT, around=_SLIGHT.around * _between(problem))
    state = replace(state, smoothing=slight)
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


def _between(problem: Problem) -> float:
    """How much more is smoothed where photographs are few. Less, and the splines between them come loose; more, and
    the smoothing is mistaken for a camera that moved.
    """
    return (_DENSE / min(max(problem.points.photos, ALL_ROUND), _DENSE)) ** 2
