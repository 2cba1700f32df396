"""Hand-written programs that do what they should, and the field that they are to make: a hatched patch on a bar; how
a few lines are read.
"""

import numpy as np

from engine.blank import Cylinder
from engine.kernel.values import Tool, Wanted
from engine.machine import FeedRule, Profile
from engine.proof import prove
from engine.proof.rs274_reader import read

BAR = Cylinder(diameter_mm=40, length_mm=90)
R, DEPTH, FEED, PLUNGE = 20.0, 0.2, 240.0, 80.0
X = np.arange(40, 46.001, 0.3)
FROM_DEG, TO_DEG = 20.0, 60.0
TOOL = Tool()


def strokes(stations, first, to_deg, down, around):
    """Lines of strokes round the bar at the stations, numbered from `first`. down, around : F."""
    out = []
    for k, x in enumerate(stations, first):
        out += [
            f"(stroke {k})",
            f"G0 X{x:.4f} A{FROM_DEG:.4f}",
            f"G0 Z{R + 0.3:.4f}",
            f"G1 Z{R - DEPTH:.4f} F{down:.6f}",
            f"G1 A{to_deg:.4f} F{around:.6f}",
            f"G1 Z{R + 0.3:.4f} F{down:.6f}",
            f"G0 Z{R + 2.2:.4f}",
        ]
    return out


def lines(rule=FeedRule.INVERSE_TIME):
    """The program as lines: one stroke around for each station of X, the tip always at the feed asked."""
    inverse = rule is FeedRule.INVERSE_TIME
    way = np.radians(TO_DEG - FROM_DEG) * (R - DEPTH)
    down, around = (PLUNGE / (DEPTH + 0.3), FEED / way) if inverse else (PLUNGE, (TO_DEG - FROM_DEG) * FEED / way)
    out = [
        f"G21 G90 {'G93' if inverse else 'G94'}",
        "G17 G40 G49 G80",
        "G0 Z25.0000",
        "G0 X40.0000 A20.0000",
        "S9000 M3",
    ]
    return [*out, *strokes(X, 1, TO_DEG, down, around), "G0 Z25.0000", "M5", "M2"]


def wanted():
    """The patch that those strokes fill."""
    cell = 0.05
    x = np.arange(38.5, 47.5, cell)
    theta = np.arange(np.radians(FROM_DEG) - 0.05, np.radians(TO_DEG) + 0.05, cell / R)
    half = 0.5 * TOOL.width_mm(DEPTH)
    on_x = (x > X[0] - half) & (x < X[-1] + half)
    on_theta = (theta > np.radians(FROM_DEG) - half / R) & (theta < np.radians(TO_DEG) + half / R)
    return Wanted(
        x_mm=x,
        theta_rad=theta,
        depth_mm=np.where(on_x[:, None] & on_theta[None, :], DEPTH, 0.0),
        feed_mm_min=FEED,
        plunge_mm_min=PLUNGE,
    )


def proof_of(program, *, tool=TOOL, **changed):
    """The proof of such a program, given as lines."""
    asked = {"skin": BAR, "tools": (tool,), "machine": Profile(), "wanted": wanted(), **changed}
    return prove(("\n".join(program) + "\n").encode(), **asked)


def codes(proof):
    """What was found, by severity."""
    return {(f.severity.value, f.code) for f in proof.findings}


HEAD = "G21 G90 G94\nG0 X0 A0 Z1\n"  # two lines


def done(body, head=HEAD, **kw):
    """A program that is to be read wholly."""
    moves = read((head + body + "\nM2\n").encode(), **kw)
    assert moves.fault is None, moves.fault
    return moves


def refused(body, head=HEAD):
    """(line of the body from 1, column, message) of a program that is not."""
    told = read((head + body + "\nM2\n").encode()).fault
    assert told is not None, "nothing was refused"
    return told.line - head.count("\n"), told.column, told.message
