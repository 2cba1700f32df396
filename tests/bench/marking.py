"""Every marking style's time as its art grows: `python -m tests.bench.marking [style...]`.

CPU seconds of this process, warm, at a tenth, three tenths and the whole of 300,000 outline points, 1 M samples of tone
or 20,000 dots; the exponent is fitted over the three (1 is in proportion). Beside each a general-purpose library does
a part of the same on the whole, in the same run. Nothing is asserted: read ratios and exponents before seconds.
"""

import sys
import time

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter
from scipy.spatial import Delaunay, cKDTree

from engine.artwork import Darkness, Drawing
from engine.kernel.values import Form, Tool
from engine.layout import Placement, lay_out
from engine.marking import Centreline, Clearing, Halftone, Hatch, Outline, Relief, Rings, Stipple, VDepth
from engine.toolpath.ordering import Axes, order
from tests.bench.art import gourd, outlined

POINTS = (30_000, 90_000, 300_000)
SAMPLES = (100_000, 300_000, 1_000_000)
DOTS = (2_000, 6_000, 20_000)
DOTTED = 0.855  # areas of dots on that picture's own, as the gourd lays it: measured
LETTERS, SPOTS, RIPPLED = (15, 0.0), (55, 0.0), (15, 0.02)  # outlines across, and how rough they are
CONE, BALL = Tool(), Tool(form=Form.BALL, diameter_mm=1.0)
WIDTH_MM = 60.0
HALVES = (80, 5)  # of a wide and a fine waviness of the tone, in samples
AXES = Axes(x_speed_mm_s=50.0, theta_speed_deg_s=180.0)
BASELINES = {
    "buffer": lambda art: shapely.buffer(
        shapely.polygons(shapely.linearrings(_points(art), indices=_owner(art))), -0.2
    ),
    "triangles": lambda art: Delaunay(np.unique(_points(art), axis=0)),
    "smoothing": lambda art: gaussian_filter(art.darkness.cells, 3.0),
    "nearest": lambda ends: cKDTree(ends[:, 0]).query(ends[:, 0], 8),
}


def _points(art):
    return art.rings.points


def _owner(art):
    return art.rings.owner


def toned(samples, dark=1.0, width_mm=WIDTH_MM):
    """A square picture of soft light and dark, made up, with about so many samples."""
    side = round(samples**0.5)
    noise = np.random.default_rng(5).standard_normal((side, side))
    tone = sum(f / f.std() for f in (gaussian_filter(noise, side / half) for half in HALVES))
    cells = dark * np.clip(0.5 + 0.25 * tone, 0.0, 1.0)
    to_cells = np.array([[side / width_mm, 0, side / 2], [0, -side / width_mm, side / 2]])
    return Drawing(width_mm=width_mm, height_mm=width_mm, darkness=Darkness(cells=cells, to_cells=to_cells))


def dotted(dots):
    """A picture that asks for about so many dots of 0.2 mm."""
    return toned(250_000, width_mm=(dots * np.pi * 0.01 / DOTTED) ** 0.5)


def rows(layout):
    """Name, its sizes, what makes the art of a size, what is done with it, and the baseline's name."""
    cone = {"depth_mm": 0.3, "angle_deg": 60.0, "tip_mm": 0.1, "pitch_mm": 0.3}
    tone = {"tool": CONE, "depth_mm": 0.3}
    styles = {
        "outline": Outline(shift_mm=-0.1),
        "hatch": Hatch(pitch_mm=0.3),
        "rings": Rings(pitch_mm=0.3, inset_mm=0.165),
        "centreline": Centreline(),
        "v-depth": VDepth(**cone),
    }
    for kind, how in (("", LETTERS), (", small", SPOTS), (", rippled", RIPPLED)):
        for name, style in styles.items():
            if kind == "" or name not in ("outline", "hatch"):
                library = "buffer" if name in ("outline", "hatch", "rings") else "triangles"
                yield name + kind, POINTS, lambda n, how=how: outlined(n, *how), _marks(style, layout), library
    helped = VDepth(**cone, clearing=Clearing(pitch_mm=0.8, keep_mm=0.674, flat_mm=0.5))
    yield "v-depth, cleared", POINTS, lambda n: outlined(n, *LETTERS), _marks(helped, layout), "triangles"
    yield "halftone", SAMPLES, toned, _marks(Halftone(pitch_mm=0.4, **tone), layout), "smoothing"
    yield "relief", SAMPLES, toned, _marks(Relief(tool=BALL, depth_mm=0.5), layout), "smoothing"
    stipple = _marks(Stipple(dot_mm=0.2, **tone), layout)
    yield "stipple", DOTS, dotted, stipple, "smoothing"
    yield "stipple, order", DOTS, lambda n: ends_of(stipple(dotted(n)), layout), ordered, "nearest"


def _marks(style, layout):
    return lambda art: style.mark(art, layout)


def ends_of(marked, layout):
    """(n, 2, 2) both ends, mm and degrees, of each dot."""
    x, theta = layout.wrap(marked.strokes.line.points)
    return np.stack([x, np.degrees(theta)], axis=1)[:, None].repeat(2, axis=1)


def ordered(ends):
    """Dots in an order that is quick to go through."""
    return order(ends, np.ones(len(ends), bool), AXES)


def timed(work, art):
    """CPU seconds of one run."""
    start = time.process_time()
    work(art)
    return time.process_time() - start


def main(wanted=()):
    """Print the table."""
    out = sys.stdout.write
    layout = lay_out(gourd(), Placement(x_mm=60))
    out(f"{'style':22}{'x1':>8}{'x3':>8}{'x10':>8}{'exponent':>10}{'ratio':>9}  baseline (x10), sizes\n")
    for name, sizes, make, work, library in rows(layout):
        if wanted and name.split(",")[0] not in wanted:
            continue
        work(make(sizes[0] // 10))  # compiled loops ready
        arts = [make(size) for size in sizes]
        spent = [timed(work, art) for art in arts]
        base = timed(BASELINES[library], arts[-1])
        growth = np.polyfit(np.log(sizes), np.log(np.maximum(spent, 1e-4)), 1)[0]
        figures = "".join(f"{one:8.2f}" for one in spent) + f"{growth:10.2f}{spent[-1] / max(base, 1e-9):9.2f}"
        out(f"{name:22}{figures}  {library}, {sizes[-1]:,}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
