"""A finding about one move of the program, or about one place of the blank."""

import math

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.proof.replay import Replay

__all__ = ["about_move", "more", "place_of", "worst"]


def place_of(replay: Replay, move: int, share: float = 1.0) -> Where:
    """Line, stroke and place of the tip at a share of a move; what is not known is left out."""
    x, theta, _ = (replay.start[move] + share * (replay.end[move] - replay.start[move])).tolist()
    if not math.isfinite(x):
        x = float(replay.end[move, 0])
    if not math.isfinite(theta):
        theta = float(replay.end[move, 1])
    stroke = int(replay.stroke[move])
    return Where(
        line=int(replay.line[move]),
        stroke=stroke if stroke > 0 else None,
        x_mm=round(x, 4) if math.isfinite(x) else None,
        angle_deg=round(math.degrees(theta), 4) if math.isfinite(theta) else None,
    )


def about_move(
    replay: Replay, move: int, severity: Severity, code: str, message: str, advice: str = "", share: float = 1.0
) -> Finding:
    """A finding at a share of a move."""
    return Finding(severity=severity, code=code, message=message, advice=advice, where=place_of(replay, move, share))


def worst(bad: Bools, size: Floats) -> tuple[int, int]:
    """(index, count): which of the bad ones is the greatest in size (first of equals), and how many are bad."""
    return int(np.where(bad, size, -np.inf).argmax()), int(bad.sum())


def more(count: int, what: str = "moves") -> str:
    """` (7 moves in all)`, or nothing for one."""
    return f" ({count} {what} in all)" if count > 1 else ""
