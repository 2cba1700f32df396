"""The reader against a general-purpose parser: the same places after every move of random programs."""

import json
import random
import subprocess
import sys
from pathlib import Path

import numpy as np

from engine.proof.rs274_reader import read


def said(text):
    """Places after every move, by the reader."""
    moves = read(text.encode())
    assert moves.fault is None, moves.fault
    return moves.end


def theirs(texts):
    script = Path(__file__).with_name("second_opinion.py")
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", str(script)],
        input=json.dumps(texts),
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(ran.stdout)


def number(rng):
    """A value, with as many decimals as it happens; a plus sign, that the standard allows, the other parser refuses."""
    value = rng.choice([rng.uniform(-400, 400), float(rng.randrange(-9, 10)), rng.uniform(-0.01, 0.01)])
    return f"{value:.{rng.randrange(1, 6)}f}"


def program(seed):
    """A program of plain moves in both units, distance modes and feed modes, written by many hands.

    The motion word is said on incremental lines and after a change of distance or unit: where it is left out the other
    parser takes up the axis words of the last line that said it.
    """
    rng = random.Random(seed)
    lines = ["G21 G90 G94", "G17 G40 G49 G80", "F100 S9000 M3", "G0 X0 A0 Z50"]
    inverse = incremental = restate = False
    for k in range(40):
        if rng.random() < 0.15:
            incremental = rng.random() < 0.5
            lines.append("G91" if incremental else "g90")
            restate = True
        if rng.random() < 0.1:
            lines += [rng.choice(["G20", "G21"]), "F100"]
            restate = True
        if rng.random() < 0.1:
            inverse = rng.random() < 0.5
            lines.append("G93" if inverse else "G94 F100")
        words = [f"{axis}{number(rng)}" for axis in rng.sample("XAZ", rng.randrange(1, 4))]
        motions = ["G0", "G1", "G00", "g1", "G01"]
        motion = rng.choice(motions if incremental or restate else ["", "", *motions])
        restate = False
        feed = f"F{rng.uniform(1, 900):.3f}" if inverse or rng.random() < 0.3 else ""
        if rng.random() < 0.1:
            lines.append(f"(stroke {k})")
        parts = [f"N{10 * k}" if rng.random() < 0.1 else "", motion, *words, feed]
        line = rng.choice([" ", "", "  "]).join(part for part in parts if part)
        lines.append(line.lower() if rng.random() < 0.1 else line)
    return "\n".join([*lines, "M5", "M2", ""])


def test_both_come_to_the_same_places():
    texts = [program(seed) for seed in range(200)]
    for text, places in zip(texts, theirs(texts), strict=True):
        ours = said(text)
        assert len(ours) == len(places) == 41
        assert np.abs(ours - np.array(places)).max() < 1e-9
