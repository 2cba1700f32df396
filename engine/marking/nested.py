"""Nested offsets of regions, ring from ring, and the crest lines that take what is left between them.

Each level lies one step inside the one before, on the skin. What is farther than half a step from two levels is a ridge
(in a corner, or where the fronts of two flanks have met): its middle line is cut too. Where a level would run back and
forth through a neck with less than NEAREST of a pitch between the two ways, they give way to each side, nearer to the
level before, so that no two ways are nearer than that, and a neck is joined to what it faces across a narrow gap. Only
tips of which neither is a neck may come nearer to each other (0.40 of a pitch seen). Derived here; laws in
tests/marking/test_rings.py.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from engine.artwork.regions import Objects, polygons_of
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import MarkingError
from engine.marking.apart import less, united
from engine.marking.crest import crests
from engine.marking.ground import Ground
from engine.marking.offset import CHORD_MM, offset, swollen

__all__ = ["Level", "nested"]

STEP = 0.98  # of the pitch: the rest is for what the ridges' search, and thinning, give away
SLACK = 0.01  # of the pitch: with what lies so little beyond half a step of a level it is content
LOW = 0.008  # of the pitch: a ridge so low is none
NEAREST = 0.48  # of the pitch: two ways of one level come no nearer
GAP = 2.0 * NEAREST  # of the pitch: what a neck faces across less than this is joined to it; it may grow half-way there
LOOK = 1.3  # of that: a neck's middle line is followed so far into what is wide enough, lest its end leave a waist
CHORD = 1 / 150  # of the pitch, and no more than any offset's: a ring's chords lie no farther from it; a third of what
# STEP leaves over
SAMPLES = 2  # of a thin region's outline, for each mean width: the middle is then within a 32nd of it
NARROW = 0.125  # of the pitch: a narrower one is sampled as if it were so wide
SHARP = 2.4  # what a corner of 30 degrees leaves, of the radius squared: no neck
LONG = 8.0  # nor is what has no more than this for an outline, of the radius
SPOT = 0.45  # of the pitch: nearer to one place than this, a ridge needs no line
MOST_LEVELS = 20_000  # 0.01 mm apart, finer than any tool, they fill art 390 mm wide


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Level:
    """regions : (n,) polygons whose outlines are the level's rings. spots, ridges : (k, 2) places and (m,) lines inside
    them that the next level does not reach.
    """

    regions: Objects
    spots: Floats
    ridges: Objects


def nested(outer: Objects, pitch_mm: float, ground: Ground) -> list[Level]:
    """The levels from `outer` (n,) inwards; the first is `outer` itself.

    No place in `outer` is farther than half the pitch from a ring, a ridge or a spot.
    """
    chord = min(CHORD_MM, CHORD * pitch_mm)
    levels: list[Level] = []
    regions = _thinned(outer, chord)
    while len(regions):
        if len(levels) == MOST_LEVELS:
            raise MarkingError(
                f"there would be more than {MOST_LEVELS} rings in each other",
                where="marking/pitch_mm",
                hint="choose a wider pitch or smaller art",
            )
        half = offset(regions, -0.5 * STEP * pitch_mm, ground, chord_mm=chord)
        inner = offset(half, -0.5 * STEP * pitch_mm, ground, chord_mm=chord)
        inner = _thinned(_parted(inner, pitch_mm, ground, chord), chord)
        reached = offset(inner, (0.5 * STEP + SLACK) * pitch_mm, ground, chord_mm=chord)
        spots, ridges = _ridges(less(half, reached), pitch_mm, ground, chord)
        levels.append(Level(regions=regions, spots=spots, ridges=ridges))
        regions = inner
    return levels


def _thinned(regions: Objects, chord: float) -> Objects:
    return polygons_of(shapely.simplify(regions, chord, preserve_topology=False))


def _parted(regions: Objects, pitch_mm: float, ground: Ground, chord: float) -> Objects:
    """The regions, their necks no narrower than NEAREST of the pitch."""
    side = 0.5 * NEAREST * pitch_mm
    look = LOOK * side
    wide = offset(offset(regions, -look, ground, chord_mm=chord), 1.01 * look, ground, chord_mm=chord)
    thin = less(regions, wide)
    scale = _scale(thin, ground)
    neck = (shapely.area(thin) * scale**2 > SHARP * look**2) | (shapely.length(thin) * scale > LONG * look)
    pairs = _facing(thin, neck, regions, GAP * pitch_mm / scale)
    neck[pairs] = True
    lines = _crests(thin[neck], scale[neck], 3.0 * look, pitch_mm, chord)
    if not len(lines):
        return regions
    lines = np.concatenate([lines, _bridges(thin, pairs, lines)])
    return united(np.concatenate([regions, swollen(lines, side, ground, chord_mm=chord)]))


def _facing(thin: Objects, neck: Bools, regions: Objects, gap: Floats) -> Ints:
    """(k, 2) pairs of thin pieces, the first of them a neck, nearer to each other than `gap` (n,), sheet mm, across
    what is in no region.
    """
    own = np.flatnonzero(neck)
    i, j = shapely.STRtree(thin).query(thin[own], predicate="dwithin", distance=gap[own])
    i = own[i]
    new = (i < j) | (~neck[j])
    i, j = i[new], j[new]
    between = shapely.line_interpolate_point(shapely.shortest_line(thin[i], thin[j]), 0.5, normalized=True)
    inside = shapely.STRtree(regions).query(between, predicate="within")[0]
    return np.delete(np.stack([i, j], axis=1), inside, axis=0)


def _bridges(thin: Objects, pairs: Ints, lines: Objects) -> Objects:
    """(k,) the shortest ways from the lines in one piece to those in the other, of each of (n, 2) pairs."""
    if not len(pairs):
        return pairs[:, 0].astype(object)
    places = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    own = shapely.STRtree(thin).query_nearest(places, all_matches=False)[1]
    parts = [[shapely.multilinestrings(lines[own == one]) for one in pair] for pair in pairs]
    ways = shapely.shortest_line(*np.array(parts, object).T)
    return np.asarray(ways[shapely.length(ways) > 0], object)


def _ridges(over: Objects, pitch_mm: float, ground: Ground, chord: float) -> tuple[Floats, Objects]:
    """Spots (k, 2) and lines (m,) that take regions no wider than a pitch."""
    scale = _scale(over, ground)
    high = shapely.area(over) * scale**2 > np.pi * (LOW * pitch_mm) ** 2  # a narrower disc might hold all it has
    over, scale = over[high], scale[high]
    middle = shapely.centroid(over)
    small = shapely.hausdorff_distance(over, middle) * scale < SPOT * pitch_mm
    lines = _crests(over[~small], scale[~small], 0.5 * pitch_mm, pitch_mm, chord)
    bare = np.ones(len(over), np.bool_)
    if len(lines):
        bare[shapely.STRtree(lines).query(over, predicate="intersects")[0]] = False
    return shapely.get_coordinates(middle[small | bare]), lines


def _crests(thin: Objects, scale: Floats, spur_mm: float, pitch_mm: float, chord: float) -> Objects:
    if not len(thin):
        return thin
    middle = float(np.median(scale))
    width = np.maximum(_width(thin), NARROW * pitch_mm / scale)
    return crests(thin, step_mm=width / SAMPLES, spur_mm=spur_mm / middle, chord_mm=chord)


def _width(regions: Objects) -> Floats:
    """(n,) about how wide long regions are, on the sheet."""
    return np.asarray(2.0 * shapely.area(regions) / shapely.length(regions), np.float64)


def _scale(regions: Objects, ground: Ground) -> Floats:
    """(n,) mm on the skin for a mm of the sheet at each region."""
    return ground.scale(shapely.get_coordinates(shapely.point_on_surface(regions)))
