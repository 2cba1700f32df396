"""Whether a program's text does harm: a small slow referee of its own, that shares nothing with the proof.

It reads by plain modal rules, samples every move, and asks the skin. What a controller would stop at counts as `stops`.
"""

import math
import re

import numpy as np
from scipy.spatial import cKDTree

__all__ = ["Deeds", "deeds_of", "harm_of"]

WORD = re.compile(r"([A-Z])\s*([-+]?(?:\d+\.?\d*|\.\d+))")
STEP_MM = 0.1
CUT_MM = 0.02
DEEPER_MM = 0.03
BESIDE_MM = 0.55  # from where the good one cuts: a grace of 0.2, half the widest groove, and a cell
LEFT = 0.03
FASTER = 1.5


class Deeds:
    """What a text does: samples (n, 3) x, theta, r of all moves, what each is part of, and why a controller stops.

    rapid, turning : (n,). mm_min : (n,) the tip's speed, 0 for rapids. last : where the tool stands at the end.
    """

    def __init__(self, rows, stop, last, ended):
        self.at = np.concatenate([r[0] for r in rows]) if rows else np.zeros((0, 3))
        size = [len(r[0]) for r in rows]
        self.rapid = np.repeat([r[1] for r in rows], size).astype(bool)
        self.turning = np.repeat([r[2] for r in rows], size)
        self.mm_min = np.repeat([r[3] for r in rows], size)
        self.down = np.repeat([r[4] for r in rows], size).astype(bool)
        self.stop, self.last, self.ended = stop, last, ended


def deeds_of(text, job, zero_mm):
    """Replay a text on the job's machine."""
    machine = job.machine
    letters, axes = machine.letters, (machine.axial, machine.rotary, machine.radial)
    at, feed, motion, turning, speed = dict.fromkeys(letters), 0.0, None, 0, None
    inch, absolute, inverse, stop, ended, rows = 1.0, True, False, None, False, []
    told = set()

    def place(words):
        deg = 1.0 if machine.mm_per_turn is None else 360.0 / machine.mm_per_turn
        x, a, z = (-words[k] if axis.reversed else words[k] for k, axis in zip(letters, axes, strict=True))
        return np.array([x, math.radians(a * deg), z + zero_mm])

    for number, raw in enumerate(text.split("\n"), 1):
        line = re.sub(r"\([^()]*\)", "", raw).strip()
        if not line or ended:
            continue
        if WORD.sub("", line).strip() or "(" in line:
            stop = f"line {number}: {raw}"
            break
        words = WORD.findall(line)
        names = [w[0] for w in words if w[0] not in "GM"]
        codes = {f"{k}{float(v):g}" for k, v in words if k in "GM"}
        if len(set(names)) < len(names) or set(names) - set("XYZABCFSTPN"):
            stop = f"line {number}: {raw}"
            break
        if {"G93", "G94"} & codes:
            inverse, feed = "G93" in codes, 0.0
        inch = 25.4 if "G20" in codes else 1.0 if "G21" in codes else inch
        absolute = True if "G90" in codes else False if "G91" in codes else absolute
        told |= codes
        values = {k: float(v) for k, v in words}
        feed = values.get("F", feed)
        speed = values.get("S", speed)
        turning = 1 if "M3" in codes else 0 if {"M5", "M2", "M30"} & codes else turning
        motion = 0 if "G0" in codes else 1 if "G1" in codes else motion
        ended = bool({"M2", "M30"} & codes)
        moved = [k for k in letters if k in values]
        if set(names) & (set("XYZABC") - set(letters)):
            stop = f"line {number}: no such axis"
            break
        if not moved:
            continue
        if (
            motion is None
            or not {"G20", "G21"} & told
            or not {"G90", "G91"} & told
            or (not absolute and None in at.values())
        ):
            stop = f"line {number}: not stated"
            break
        before = dict(at)
        for k in moved:
            value = values[k] * (inch if k in "XYZ" else 1.0)
            at[k] = value if absolute else at[k] + value
        if motion == 1 and (feed <= 0 or (inverse and "F" not in values)):
            stop = f"line {number}: no F"
            break
        if None in at.values():
            continue
        b = place(at)
        a = b if None in before.values() else place(before)
        r = 0.5 * (a[2] + b[2])
        way = math.sqrt((b[0] - a[0]) ** 2 + (b[2] - a[2]) ** 2 + (r * (b[1] - a[1])) ** 2)
        minutes = _minutes(before, at, feed * (inch if not inverse else 1.0), inverse, machine, letters)
        n = min(max(2, math.ceil(way / STEP_MM) + 1), 20_000)
        t = np.linspace(0, 1, n)[:, None]
        straight = abs(b[0] - a[0]) < 1e-9 and abs(b[1] - a[1]) < 1e-12
        # A lift out of the groove takes nothing off, however fast.
        mm_min = 0.0 if (straight and b[2] > a[2]) or not minutes else way / minutes
        rows.append((a + t * (b - a), motion == 0, turning and speed != 0, mm_min, straight and b[2] < a[2]))
    last = None if None in at.values() else place(at)
    return Deeds(rows, stop, last, ended)


def _minutes(before, at, feed, inverse, machine, letters):
    if feed <= 0 or None in before.values():
        return 0.0
    if inverse:
        return 1.0 / feed
    linear = math.hypot(at[letters[0]] - before[letters[0]], at[letters[2]] - before[letters[2]])
    turn = abs(at[letters[1]] - before[letters[1]])
    if machine.feed_rule.value == "all-axes" or machine.mm_per_turn is not None:
        return math.hypot(linear, turn) / feed
    return (linear if linear > 0 else turn) / feed


def _spots(skin, at):
    r = skin.radius(at[:, 0], at[:, 1])
    return np.stack([at[:, 0], r * np.cos(at[:, 1]), r * np.sin(at[:, 1])], axis=1)


def _depth(skin, at):
    low, high = skin.x_range_mm
    x = np.clip(at[:, 0], low, high)
    r = skin.radius(x, at[:, 1])
    along, around = skin.slopes(x, at[:, 1])
    on = (at[:, 0] >= low) & (at[:, 0] <= high)
    return np.where(on, (r - at[:, 2]) / np.sqrt(1 + along**2 + (around / np.maximum(r, 1e-9)) ** 2), -1e9)


def harm_of(bad, good, job, skin):
    """Names of the harm that `bad` does where `good` does none; empty where it does none."""
    if bad.stop:
        return {"stops"}
    item = job.items[0]
    found = set()
    if not len(bad.at):
        return {"left"}
    depth, fine = _depth(skin, bad.at), _depth(skin, good.at)
    if (bad.rapid & (depth > CUT_MM)).any():
        found.add("rapid into the skin")
    cutting = ~bad.rapid & (depth > CUT_MM)
    if (cutting & (depth > item.depth_mm + DEEPER_MM)).any():
        found.add("deeper")
    if (cutting & (bad.turning == 0)).any():
        found.add("spindle off")
    asked = np.where(bad.down, item.plunge_mm_min, item.feed_mm_min)
    if (cutting & (bad.mm_min > FASTER * asked)).any():
        found.add("faster")
    for stretch in job.keep_out:
        inside = (bad.at[:, 0] > stretch.from_mm) & (bad.at[:, 0] < stretch.to_mm)
        if (inside & (bad.at[:, 2] < (stretch.radius_mm or 0.0))).any():
            found.add("hardware")
    made = good.at[~good.rapid & (fine > CUT_MM)]
    cut = bad.at[cutting]
    there = _spots(skin, made)
    if len(cut) and (cKDTree(there).query(_spots(skin, cut))[0] > BESIDE_MM).any():
        found.add("beside")
    left = np.ones(len(made), bool) if not len(cut) else cKDTree(_spots(skin, cut)).query(there)[0] > BESIDE_MM
    if left.mean() > LEFT:
        found.add("left")
    if bad.last is None or _depth(skin, bad.last[None])[0] > -0.1:
        found.add("stays in the blank")
    return found
