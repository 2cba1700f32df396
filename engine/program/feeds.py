"""What F must be so that the tip runs over the blank at the asked feed, whatever the controller makes of an F word.

Takes the rounded words of every block (so that text and time agree), gives minutes per block and F with its decimals.
Sources: NISTIR 6556 2.1.2.5 (F along X, Y, Z; degrees a minute for rotary-only), 3.5.19 (inverse time); the all-axes
rule is that of many small controllers (common practice). Refuses nothing: a block without motion never comes here.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.units import TURN_RAD
from engine.machine import FeedRule, Profile

__all__ = ["MOST_DECIMALS", "Feeds", "counted_length", "feeds", "tip_length_mm"]

SIGNIFICANT = 6  # scripts may rely on five; one more keeps the time of a block within 5e-6
MOST_DECIMALS = 12  # F below 1e-7 does not occur: it would be a block of 20 years
_GAUSS = 0.5 / np.sqrt(3.0)  # places of the two-point Gauss rule about a move's middle, in moves
_TENS = 10.0 ** np.arange(MOST_DECIMALS + 1)
_AT_A_TIME = 1 << 14  # blocks: their columns stay in the second-level cache


def tip_length_mm(dx_mm: Floats, dr_mm: Floats, dtheta_rad: Floats, r_from_mm: Floats, r_to_mm: Floats) -> Floats:
    """(n,) mm: length of the tip's way over the blank while x, r and theta run evenly together.

    The integral of sqrt(dx**2 + dr**2 + (r dtheta)**2) with r linear, by Gauss's two points: exact where r is constant,
    relative error 5.9e-04 for a quarter turn in to the very axis (tests/test_writer.py).
    """
    middle, reach = 0.5 * (r_from_mm + r_to_mm), _GAUSS * (r_to_mm - r_from_mm)
    straight = dx_mm * dx_mm + dr_mm * dr_mm
    return 0.5 * (
        np.sqrt(straight + ((middle - reach) * dtheta_rad) ** 2)
        + np.sqrt(straight + ((middle + reach) * dtheta_rad) ** 2)
    )


def counted_length(rule: FeedRule, dx: Floats, drot: Floats, dz: Floats, *, rotary_is_mm: bool) -> Floats:
    """(n,) the length the controller divides by F under a G94 rule, from word differences (mm, rotary word unit, mm).

    linear-axes-only: linear length, or degrees where nothing linear moves. all-axes: root of all three squares. A
    rotary word in mm is a linear axis under every rule.
    """
    linear = dx * dx + dz * dz
    if rule is FeedRule.ALL_AXES or rotary_is_mm:
        return np.sqrt(linear + drot * drot)
    return np.where(linear > 0, np.sqrt(linear), np.abs(drot))


@dataclass(frozen=True, slots=True, eq=False)
class Feeds:
    """whole / 10**decimals is F; minutes is what the block then takes; slowed marks blocks held down by an axis."""

    whole: Ints
    decimals: Ints
    minutes: Floats
    slowed: Bools
    share: Floats

    def part(self, which: slice) -> "Feeds":
        """Those of some blocks."""
        return Feeds(*(getattr(self, name)[which] for name in Feeds.__slots__))


def feeds(words: Floats, r_mm: Floats, rows: Ints, feed_mm_min: Floats, profile: Profile) -> Feeds:
    """F of the blocks that end at `rows`, each from the row before it, a cache's worth at a time.

    words : (3, n) rounded axial, rotary, radial words. r_mm : (n,) the tip's radius those words mean.
    rows : (k,) >= 1, each with motion. feed_mm_min : (k,).
    """
    parts = [
        _feeds(words, r_mm, rows[k : k + _AT_A_TIME], feed_mm_min[k : k + _AT_A_TIME], profile)
        for k in range(0, max(len(rows), 1), _AT_A_TIME)
    ]
    return Feeds(*(np.concatenate([getattr(p, name) for p in parts]) for name in Feeds.__slots__))


def _feeds(words: Floats, r_mm: Floats, rows: Ints, feed_mm_min: Floats, profile: Profile) -> Feeds:
    dx, drot, dz = (column.take(rows) - column.take(rows - 1) for column in words)
    per_turn = 360.0 if profile.mm_per_turn is None else profile.mm_per_turn
    turn = drot / per_turn
    length = tip_length_mm(dx, dz, turn * TURN_RAD, r_mm.take(rows - 1), r_mm.take(rows))
    asked = length / feed_mm_min
    # A word that turns the axis under a tip that stands on it has no length over the blank: axis limits set its time.
    least = np.zeros_like(asked)
    for axis, way in ((profile.axial, dx), (profile.rotary, turn * 360.0), (profile.radial, dz)):
        if axis.rapid_per_min is not None:
            np.maximum(least, np.abs(way) / axis.rapid_per_min, out=least)
    minutes = np.maximum(asked, least)
    slowed = least > asked * (1.0 + 1e-9)
    if profile.feed_rule is FeedRule.INVERSE_TIME:
        counted = np.ones_like(minutes)
    else:
        counted = counted_length(profile.feed_rule, dx, drot, dz, rotary_is_mm=profile.mm_per_turn is not None)
    value = counted / minutes
    decimals = np.clip(SIGNIFICANT - 1 - np.floor(np.log10(value)).astype(np.int64), 0, MOST_DECIMALS)
    scaled = value * _TENS[decimals]
    # At an axis limit F is rounded down, so that no block asks an axis for more than it can do.
    at_limit = least >= asked * (1.0 - 1e-5)
    whole = np.where(at_limit, np.floor(scaled * (1.0 - 1e-12)), np.rint(scaled)).astype(np.int64)
    np.maximum(whole, 1, out=whole)
    return Feeds(
        whole,
        decimals,
        counted * _TENS[decimals] / whole,
        slowed,
        np.where(slowed, asked / np.maximum(minutes, 1e-300), 1.0),
    )
