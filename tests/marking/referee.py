"""Referees of what strokes leave, and art to judge them by. They share no method with the styles: carved outlines are
unions of swept discs, distances are taken between densified outlines, in space where the sheet lies on a skin.
"""

import importlib.resources
import string

import numpy as np
import shapely
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from engine.artwork import Drawing
from engine.kernel.ragged import Ragged

LETTERS = string.ascii_letters + string.digits


def drawing_of(shape, margin=1.0):
    """A drawing about its own middle, exteriors counter-clockwise."""
    x0, y0, x1, y1 = shape.bounds
    polygons = shapely.get_parts(shapely.orient_polygons(shape, exterior_cw=False))
    runs = [shapely.get_coordinates(r) - [(x0 + x1) / 2, (y0 + y1) / 2] for r in shapely.get_rings(polygons)]
    return Drawing(width_mm=x1 - x0 + margin, height_mm=y1 - y0 + margin, rings=Ragged.of(runs))


def groove_mm(depth, angle_deg, tip_mm):
    """Width of a cone's groove in a flat skin (REFERENCES T1); none where it is out of the material."""
    return np.where(depth >= 0, tip_mm + 2 * depth * np.tan(np.radians(angle_deg / 2)), 0.0)


def swept(line, width, quads=64):
    """What discs of those widths leave that run along the strokes: hulls of neighbouring discs, united."""
    out = []
    for i, j in zip(line.offsets[:-1], line.offsets[1:], strict=True):
        p, r = line.points[i:j], np.maximum(width[i:j] / 2, 1e-6)
        discs = shapely.buffer(shapely.points(p), r, quad_segs=quads)
        if len(p) > 1:
            pairs = np.repeat(np.arange(len(p) - 1), 2)
            discs = shapely.convex_hull(shapely.multipolygons(np.repeat(discs, 2)[1:-1], indices=pairs))
        out.append(shapely.union_all(discs))
    return shapely.union_all(out)


def hausdorff(one, two, step=0.01):
    """Greatest distance each way, from densified points to the other's lines."""
    far = []
    for a, b in ((one, two), (two, one)):
        places = shapely.points(shapely.get_coordinates(shapely.segmentize(a, step)))
        far.append(
            float(shapely.STRtree(_segments(b)).query_nearest(places, return_distance=True, all_matches=False)[1].max())
        )
    return far


def _segments(lines):
    out = []
    for line in shapely.get_parts(lines):
        c = shapely.get_coordinates(line)
        out.append(np.stack([c[:-1], c[1:]], 1))
    return shapely.linestrings(np.concatenate(out))


def face(name="SourceSansPro-Regular.otf"):
    """A shipped face, as fontTools reads it."""
    files = importlib.resources.files("font_source_sans_pro") / "files" / name
    with importlib.resources.as_file(files) as path:
        return TTFont(path)


def glyph(font, letter, em_mm, chord_mm=0.001):
    """One letter's region; its curves cut into chords that leave them by no more than chord_mm."""
    glyphs = font.getGlyphSet()
    pen = DecomposingRecordingPen(glyphs)
    glyphs[font.getBestCmap()[ord(letter)]].draw(pen)
    scale, rings, ring = em_mm / font["head"].unitsPerEm, [], []
    for verb, args in pen.value:
        q = [np.array(p, float) * scale for p in args if p is not None]
        if verb == "moveTo":
            ring = [q[0]]
        elif verb == "lineTo":
            ring.append(q[0])
        elif verb == "curveTo":
            ring += _cubic(np.array([ring[-1], *q]), chord_mm)
        else:
            rings.append(np.array(ring))
    shape = shapely.Polygon()
    for one in sorted(rings, key=lambda r: -abs(shapely.Polygon(r).area)):
        shape = shape.symmetric_difference(shapely.Polygon(one).buffer(0))
    return shape


def _cubic(c, chord_mm):
    bend = np.abs(np.diff(c, 2, axis=0)).max()
    n = max(2, int(np.ceil(np.sqrt(bend / chord_mm))))
    t = np.linspace(0, 1, n + 1)[1:, None]
    return list((1 - t) ** 3 * c[0] + 3 * t * (1 - t) ** 2 * c[1] + 3 * t * t * (1 - t) * c[2] + t**3 * c[3])


def smooth_curve(rng, length=30.0, n=400, wiggle=1.5):
    """(n, 2) a smooth open curve of gentle bend."""
    s = np.linspace(0, 1, n)
    turn = sum(rng.normal() * wiggle / k * np.sin(np.pi * k * s + rng.uniform(0, 6.28)) for k in range(1, 4))
    a = rng.uniform(0, 6.28) + turn
    d = length / (n - 1) * np.column_stack([np.cos(a), np.sin(a)])
    return np.concatenate([[[0, 0]], np.cumsum((d[1:] + d[:-1]) / 2, 0)])
