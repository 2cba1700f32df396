"""Every stage's time on 2,000 and 20,000 strokes: `python -m tests.bench`.

CPU seconds of this process, the least of three warm runs, each beside a named baseline taken in the same run; the
exponent tells how time grows with the strokes (1 is in proportion). Nothing is asserted: read ratios, not seconds.
"""

import re
import sys
import time
from io import BytesIO
from itertools import pairwise

import numpy as np
import shapely

from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Kind, Tool
from engine.layout import Placement, lay_out
from engine.machine import Profile, limits_of, path_motion
from engine.marking import Hatch
from engine.program import write
from engine.proof import prove
from engine.toolpath import climb, cut, lay, link, order
from engine.toolpath.order import stroke_ends
from engine.toolpath.ordering import Axes, Effort
from engine.toolpath.ordering import order as ordering
from tests.bench.art import field_of_blobs, gourd

TOLERANCE, TOOL, MACHINE = Tolerance(), Tool(), Profile()


def timed(work, runs=3):
    """(least CPU seconds, the last result)."""
    least, result = np.inf, None
    for _ in range(runs):
        start = time.process_time()
        result = work()
        least = min(least, time.process_time() - start)
    return least, result


def clip_by_library(drawing, pitch_mm):
    """Baseline of the hatch: the general-purpose library clips each polygon's own lines."""
    for ring in (drawing.rings[k] for k in range(len(drawing.rings))):
        polygon = shapely.Polygon(ring)
        low, high = ring.min(axis=0), ring.max(axis=0)
        lines = [[(low[0] - 1, y), (high[0] + 1, y)] for y in np.arange(low[1], high[1], pitch_mm)]
        shapely.intersection(shapely.MultiLineString(lines), polygon)


def by_words(text):
    """Baseline of the reader: one regular expression a line and a dictionary of words."""
    held = {}
    for line in text.decode("ascii").splitlines():
        held.update((k, float(v)) for k, v in re.findall(r"([A-Z])(-?[\d.]+)", line))
    return held


def columns(path):
    """Baseline of the writer: numpy's own text writer on three columns, without feeds."""
    out = BytesIO()
    np.savetxt(out, np.stack([path.x_mm, np.degrees(path.theta_rad), path.r_mm], 1), fmt="X%.4f A%.4f Z%.4f")
    return out


def by_loop(path):
    """Baseline of the time estimate: one plain pass over the rows."""
    total = 0.0
    rows = np.stack([path.x_mm, path.theta_rad, path.r_mm], 1).tolist()
    for a, b in pairwise(rows):
        total += ((b[0] - a[0]) ** 2 + (b[2] - a[2]) ** 2 + (b[2] * (b[1] - a[1])) ** 2) ** 0.5
    return total


def stages(strokes):
    """Stage -> (seconds, baseline's name, baseline's seconds), and figures worth printing."""
    skin = gourd()
    drawing, pitch = field_of_blobs(strokes)
    layout = lay_out(skin, Placement(x_mm=60))
    found, told = {}, {}
    style = Hatch(pitch_mm=pitch)
    t, marked = timed(lambda: style.mark(drawing, layout))
    found["hatch"] = t, "library clip a polygon", timed(lambda: clip_by_library(drawing, pitch), 1)[0]
    t, laid = timed(lambda: lay(marked.strokes, layout, depth_mm=0.2, tolerance=TOLERANCE))
    wrap_once = timed(lambda: layout.wrap(marked.strokes.line.points))[0]
    found["lay on the skin"] = t, "one wrap of the ends", wrap_once
    t, climbing = timed(lambda: climb(laid, skin, tolerance=TOLERANCE))
    radii_once = timed(lambda: skin.radius(laid.x_mm, laid.theta_rad))[0]
    found["climb"] = t, "one radius a point", radii_once
    feeds = {"passes": 1, "step_mm": None, "feed_mm_min": 240, "plunge_mm_min": 80, "art": 0}
    t, runs = timed(lambda: cut(laid, skin, TOOL, depth_mm=0.2, tolerance=TOLERANCE, **feeds))
    found["follow"] = t, "one radius a point", radii_once
    told["strokes"] = len(runs)
    t, ordered = timed(lambda: order(runs, MACHINE))
    ends = stroke_ends(runs)
    ends[..., 1] = np.degrees(ends[..., 1])
    axes = Axes(x_speed_mm_s=25, theta_speed_deg_s=60, x_accel_mm_s2=200, theta_accel_deg_s2=720)
    quick, _ = timed(lambda: ordering(ends, runs.reversible, axes, effort=Effort.QUICK))
    found["order"] = t, "greedy edge and descent", quick
    best = ordering(ends, runs.reversible, axes)
    told["travel of greedy edge"] = best.travel_s / best.start_travel_s
    t, path = timed(lambda: link(ordered, skin, TOOL, MACHINE))
    found["link"] = t, "one radius a point", radii_once
    t, program = timed(lambda: write(path, MACHINE))
    found["write"] = t, "numpy savetxt, no feeds", timed(lambda: columns(path), 1)[0]
    t, _ = timed(lambda: path_motion(path, limits_of(MACHINE)))
    found["time"] = t, "plain loop, lengths only", timed(lambda: by_loop(path), 1)[0]
    t, _ = timed(lambda: prove(program.text, skin=skin, tools=[TOOL], machine=MACHINE))
    found["prove"] = t, "regular-expression read", timed(lambda: by_words(program.text), 1)[0]
    told["climbing strokes"] = len(climbing)
    told["rows"] = len(path)
    told["cut rows"] = int((path.kind == Kind.CUT).sum())
    told["whole, CPU s"] = sum(row[0] for row in found.values())
    return found, told


def main():
    """Print the tables."""
    out = sys.stdout.write
    stages(200)  # compiled loops ready
    small, _ = stages(2_000)
    large, told = stages(20_000)
    out(f"{'stage':18}{'2,000':>10}{'20,000':>10}{'exponent':>10}{'ratio':>9}  baseline (20,000)\n")
    for name, (seconds, baseline, base) in large.items():
        growth = np.log10(seconds / max(small[name][0], 1e-4))
        figures = f"{small[name][0]:10.3f}{seconds:10.3f}{growth:10.2f}{seconds / max(base, 1e-9):9.2f}"
        out(f"{name:18}{figures}  {baseline}\n")
    for name, value in told.items():
        out(f"{name:24}{value:12.3f}\n" if isinstance(value, float) else f"{name:24}{value:12d}\n")


if __name__ == "__main__":
    main()
