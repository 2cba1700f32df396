"""Carving beside a slice-per-stamp loop in numpy, in one run: `python -m tests.bench.carving`.

A field of 2,000 by 4,000 cells, a small cone, one tool path: as a million moves of one cell, and as a hundred thousand
of ten. The baseline takes the exact rotary form in a window round each stamp, on a sample of them. Nothing is asserted.
"""

import math
import resource
import sys
import time

import numpy as np

from engine.kernel.values import Form, Tool
from engine.proof.carve import carve, work_of
from engine.proof.carve_pieces import Frame
from engine.proof.form import form_of

NX, NT, CELL, R, DEPTH = 2_000, 4_000, 0.02, 20.0, 0.05
FRAME = Frame(0.0, CELL, -0.5 * NT * CELL / R, CELL / R, False)
CONE = Tool(tip_mm=0.05, angle_deg=60.0)
STAMPS = 20_000  # of the million: the loop takes the same time for each


def field():
    return np.full((NX, NT), R, np.float32)


def path(cells, total=1_000_000):
    """Moves (n, 6) of `cells` cells, to and fro along the axis, `total` cells in all."""
    lines = total // 1_900
    places = []
    for k in range(lines):
        x = CELL * (50 + np.arange(0, 1_901, cells))
        theta = FRAME.th0 + FRAME.dth * (40 + k * (NT - 80) / lines)
        places.append(np.stack([x[:: -1 if k % 2 else 1], np.full(len(x), theta), np.full(len(x), R - DEPTH)], axis=1))
    at = np.concatenate(places)
    return np.concatenate([at[:-1], at[1:]], axis=1)


def stamps(radii, places, tool):
    """The baseline: for each place the window under the tool, the exact entry of each ray, and the lesser of both."""
    flat, _, cot, _ = form_of(tool)
    reach = flat + DEPTH / cot + 2 * CELL
    wide = math.ceil(reach / CELL)
    for x, theta, z in places:
        i, j = round((x - FRAME.x0) / CELL), round((theta - FRAME.th0) / FRAME.dth)
        rows, columns = slice(max(i - wide, 0), i + wide + 1), slice(max(j - wide, 0), j + wide + 1)
        part = radii[rows, columns]
        dx = (FRAME.x0 + CELL * np.arange(rows.start, rows.start + part.shape[0]) - x)[:, None]
        a = (FRAME.th0 + FRAME.dth * np.arange(columns.start, columns.start + part.shape[1]) - theta)[None, :]
        s, c = np.sin(a), np.cos(a)
        k = z - flat * cot
        q = c * c - cot * cot * s * s
        p = np.maximum(z / c, (c * k + cot * np.sqrt(np.maximum(k * k * s * s + dx * dx * q, 0.0))) / q)
        np.minimum(part, p, out=part)


def least(work, runs=2):
    found = math.inf
    for _ in range(runs):
        radii = field()
        start = time.process_time()
        work(radii)
        found = min(found, time.process_time() - start)
    return found


def main():
    """Print the table."""
    out = sys.stdout.write
    single, tens = path(1), path(10)
    ball, end = Tool(form=Form.BALL, diameter_mm=1.0), Tool(form=Form.FLAT, diameter_mm=1.0)
    carve(field(), FRAME, form_of(CONE), single[:100])  # compile
    for tool in (ball, end):
        carve(field(), FRAME, form_of(tool), tens[:100])
    sample = single[:STAMPS, 3:]
    loop = least(lambda radii: stamps(radii, sample, CONE)) * len(single) / len(sample)
    one = least(lambda radii: carve(radii, FRAME, form_of(CONE), single))
    ten = least(lambda radii: carve(radii, FRAME, form_of(CONE), tens))
    balls = least(lambda radii: carve(radii, FRAME, form_of(ball), tens[:10_000]))
    flats = least(lambda radii: carve(radii, FRAME, form_of(end), tens[:10_000]))
    out(f"{'slice per stamp, exact form, for a million (by a sample)':58}{loop:9.2f} s\n")
    out(f"{f'{len(single):,} moves of one cell':58}{one:9.2f} s{loop / one:9.1f} times as fast\n")
    work = sum(work_of(field(), FRAME, form_of(CONE), single))
    count = least(lambda radii: work_of(radii, FRAME, form_of(CONE), single))
    out(f"{'rows met by these (`Work`), and their counting':58}{count:9.2f} s{1e9 * one / work:9.1f} ns a row\n")
    out(f"{f'{len(tens):,} moves of ten cells':58}{ten:9.2f} s{loop / ten:9.1f} times as fast\n")
    out(f"{'10,000 moves of ten cells, ball of 1 mm':58}{balls:9.2f} s\n")
    out(f"{'the same, flat end of 1 mm':58}{flats:9.2f} s{flats / balls:9.1f} times a ball\n")
    out(f"{'memory of the whole process, MB':58}{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:9.0f}\n")


if __name__ == "__main__":
    main()
