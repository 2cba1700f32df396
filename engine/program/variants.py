"""Other programs from the same Path: the air run, and going on from a stroke.

Each takes a Path and gives a Path; the writer needs to know nothing of them. Refuses (ProgramError): a stroke that is
not there, a lift that is none.
"""

import numpy as np

from engine.kernel.arrays import Bytes8, Floats
from engine.kernel.errors import ProgramError
from engine.kernel.values import Kind, Path
from engine.machine import Profile, passed_by
from engine.program.feeds import tip_length_mm

__all__ = ["air", "resume"]

_STILL = 1e-9  # mm or rad: below every word's last decimal
_COLUMNS = ("x_mm", "theta_rad", "r_mm", "kind", "stroke", "feed_mm_min", "tool")


def _with(path: Path, **changed: object) -> Path:
    columns = {name: getattr(path, name) for name in _COLUMNS}
    return Path(**{**columns, **changed})


def air(path: Path, *, lift_mm: float) -> Path:
    """The same moves, lifted, all with the tool that is in the spindle: nothing is touched, so none is changed. Feeds
    are raised with the radius so that every move takes the very time of the real run.

    lift_mm : at least the greatest depth and the clearance together. Write it with spindle=False.
    """
    if not lift_mm > 0:
        raise ProgramError("an air run needs a lift > 0", where="lift_mm")
    up = path.r_mm + lift_mm
    dx, dt, dr = (np.diff(c, prepend=c[0]) for c in (path.x_mm, path.theta_rad, path.r_mm))
    below = tip_length_mm(dx, dr, dt, np.roll(path.r_mm, 1), path.r_mm)
    above = tip_length_mm(dx, dr, dt, np.roll(up, 1), up)
    longer = np.where(below > 0, above / np.where(below > 0, below, 1.0), 1.0)
    return _with(path, r_mm=up, feed_mm_min=path.feed_mm_min * longer, tool=np.zeros(len(path), np.int64))


def resume(path: Path, stroke: int, machine: Profile) -> Path:
    """The rest of the Path from a stroke on, its number kept.

    The first row stands above the stroke's first place, at the greatest height of the whole Path, so that the way there
    is clear whatever was done before; where an axis has play, it stands aside and comes back the way the stroke sets
    off. ProgramError where no travel leads to the stroke's first feeding row: a rapid down to it would run into the
    blank.
    """
    there = np.flatnonzero(path.stroke == stroke)
    if stroke < 1 or not len(there):
        raise ProgramError(f"there is no stroke {stroke}", where="from_stroke", hint=f"1 to {int(path.stroke.max())}")
    feeds_at = int(there[(path.kind[there] != Kind.TRAVEL).argmax()])
    # Travel that leads to the stroke may set out low over the last one; begin where the stroke's own plunge begins.
    start = max(feeds_at - 1, 0)
    if path.kind[start] != Kind.TRAVEL:
        raise ProgramError(f"no travel leads to stroke {stroke}", where="from_stroke", hint="an earlier stroke")
    place = np.array([path.x_mm[feeds_at], path.theta_rad[feeds_at]])
    units = np.array([1.0, np.pi / 180.0])
    ways = [_sets_off(at[feeds_at:], path.kind[feeds_at:]) for at in (path.x_mm, path.theta_rad)]
    passed = [passed_by(a, p, w) for a, p, w in zip((machine.axial, machine.rotary), place / units, ways, strict=True)]
    aside = np.array(passed) * units
    above = [aside, place] if (np.abs(aside - place) > _STILL).any() else [place]
    rest = {name: getattr(path, name)[start:] for name in _COLUMNS}
    high = {name: np.repeat(column[:1], len(above)) for name, column in rest.items()}
    high["x_mm"], high["theta_rad"] = np.array(above).T
    high["r_mm"] = np.full(len(above), path.r_mm.max())
    high["kind"] = np.full(len(above), Kind.TRAVEL)
    rest["kind"] = np.concatenate([[np.uint8(Kind.TRAVEL)], rest["kind"][1:]])
    return Path(**{name: np.concatenate([high[name], rest[name]]) for name in _COLUMNS})


def _sets_off(at: Floats, kind: Bytes8) -> float:
    """Sense in which an axis first moves from a plunge on, before the next travel; onwards where it stays."""
    travels = np.flatnonzero(kind == Kind.TRAVEL)
    steps = np.diff(at[: travels[0]] if len(travels) else at)
    moves = steps[np.abs(steps) > _STILL]
    return float(np.sign(moves[0])) if len(moves) else 1.0
