"""Paths as a linker makes them, profiles of every kind, and the way from words back to the blank."""

import math

import numpy as np
from hypothesis import strategies as st

from engine.kernel.values import Kind, Path
from engine.machine import Axis, FeedRule, Profile
from tests.program.words_back import read_back

FREE = {"axial": Axis(letter="X"), "rotary": Axis(letter="A"), "radial": Axis(letter="Z")}
COLUMNS = ("x_mm", "theta_rad", "r_mm", "kind", "stroke", "feed_mm_min")


def linked(strokes, *, clearance_mm=2.0, approach_mm=0.3, feed=600.0, plunge=200.0):
    """Strokes, each (m, 3) of x mm, theta rad, r mm, joined by lift, rapid and plunge as a program wants them."""
    top = max(s[:, 2].max() for s in strokes) + clearance_mm
    rows = []
    for n, s in enumerate(strokes, 1):
        a, b = s[0], s[-1]
        rows.append((a[0], a[1], top, Kind.TRAVEL, n, feed))
        rows.append((a[0], a[1], a[2] + approach_mm, Kind.TRAVEL, n, feed))
        rows.append((*a, Kind.PLUNGE, n, plunge))
        rows += [(*p, Kind.CUT, n, feed) for p in s[1:]]
        rows.append((b[0], b[1], b[2] + approach_mm, Kind.LIFT, n, plunge))
        rows.append((b[0], b[1], top, Kind.TRAVEL, n, feed))
    return Path(**dict(zip(COLUMNS, zip(*rows, strict=True), strict=True)))


def straight(dx, dz, da, r, v):
    """One cutting move of the given words, `r` its middle radius."""
    return Path(
        x_mm=[0, dx], theta_rad=[0, math.radians(da)], r_mm=[r - dz / 2, r + dz / 2], kind=[3, 0], stroke=[1, 1],
        feed_mm_min=[v, v],
    )  # fmt: skip


@st.composite
def paths(draw):
    """1 to 5 strokes of 2 to 12 points: steps from a tenth of a micrometre to 10 mm, standing axes, whole turns."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    step = 10.0 ** draw(st.integers(-4, 1))
    strokes = []
    for _ in range(draw(st.integers(1, 5))):
        m = draw(st.integers(2, 12))
        x, theta, r = (
            rng.uniform(low, high) + np.cumsum(rng.normal(0, step * share, m)) * rng.integers(0, 2)
            for low, high, share in ((-80, 80, 1), (-20, 20, 0.1), (3, 40, 0.2))
        )
        strokes.append(np.stack([x, theta, np.clip(r, 0.5, None)], 1))
    return linked(strokes, feed=draw(st.floats(5, 2000)), plunge=draw(st.floats(5, 300)))


@st.composite
def profiles(draw, *, limited=True):
    """Every feed rule, letters, signs, decimals, degrees or mm a turn."""
    rule = draw(st.sampled_from(list(FeedRule)))
    per_turn = draw(st.sampled_from([None, None, 360.0, 125.66]))
    linear = draw(st.permutations("XYZ"))
    rotary = linear[2] if per_turn and draw(st.booleans()) else draw(st.sampled_from("ABC"))

    def axis(letter, rapid):
        return Axis(letter=letter, reversed=draw(st.booleans()), rapid_per_min=rapid if limited else None)

    return Profile(
        axial=axis(linear[0], 1500.0),
        radial=axis(linear[1], 600.0),
        rotary=axis(rotary, 3600.0),
        feed_rule=rule,
        mm_per_turn=per_turn,
        decimals=draw(st.integers(2, 5)),
    )


def back(program, profile):
    """The program's text read by the tests' own reader, as the profile's controller does."""
    linear = "XYZ" + (profile.rotary.letter if profile.mm_per_turn else "")
    all_axes = profile.feed_rule is FeedRule.ALL_AXES
    return read_back(program.text, profile.letters, all_axes=all_axes, linear=linear)


def on_blank(words, profile, zero_r_mm=0.0):
    """(x mm, degrees, r mm) that a dict of axis words means."""
    x, turn, r = (
        -words[axis.letter] if axis.reversed else words[axis.letter]
        for axis in (profile.axial, profile.rotary, profile.radial)
    )
    return x, turn * 360.0 / (profile.mm_per_turn or 360.0), r + zero_r_mm


def body_moves(program, reading):
    """(move, row of the path) of every move that stands for a row."""
    pairs = [(move, int(program.line_row[move.line - 1])) for move in reading.moves]
    return [(move, row) for move, row in pairs if row >= 0]
