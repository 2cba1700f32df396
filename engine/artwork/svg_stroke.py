"""A stroke's geometry: dashes, lines, and the band that a light stroke erases."""

import itertools
import math
import re
from typing import Literal

import numpy as np
import shapely

from engine.artwork.limits import Limits
from engine.artwork.regions import Objects, polygons_of
from engine.artwork.svg_style import Style
from engine.artwork.svg_values import LONGEST_TRANSFORM, length
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import TooBigError

__all__ = ["band", "stroke_lines"]

_JOIN: dict[str, Literal["mitre", "round", "bevel"]] = {"round": "round", "bevel": "bevel"}
_CAP: dict[str, Literal["flat", "round", "square"]] = {"round": "round", "square": "square"}
_APART = re.compile(r"[\s,]+")


def stroke_lines(
    style: Style,
    points: Floats,
    offsets: Ints,
    closed: Bools,
    scale: float,
    reference: float,
    limits: Limits,
    where: str,
) -> Objects:
    """(m,) linestrings along subpaths, dashed where the style says so; a closed one ends where it begins.

    scale : sheet units to a user unit. reference : user units that a per cent is taken of.

    Raises
    ------
    TooBigError for too many dashes.
    """
    parts = [points[a:b] for a, b in itertools.pairwise(offsets)]
    text = style.get("stroke-dasharray", "none")
    tokens = _APART.split(text.strip()) if text != "none" and len(text) <= LONGEST_TRANSFORM else []
    pattern = [length(token, reference, math.nan) * scale for token in tokens if token]
    if pattern and min(pattern) >= 0 and 0 < sum(pattern) < math.inf:  # NaN fails here
        pattern = pattern * 2 if len(pattern) % 2 else pattern
        offset = length(style.get("stroke-dashoffset"), reference) * scale
        parts = _dashed(parts, closed, pattern, offset, limits, where)
    parts = [part for part in parts if len(part) > 1 and bool((part != part[0]).any())]
    if not parts:
        return np.zeros(0, object)
    owner = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    return np.asarray(shapely.linestrings(np.concatenate(parts), indices=owner), object)


def _dashed(
    parts: list[Floats], closed: Bools, pattern: list[float], offset: float, limits: Limits, where: str
) -> list[Floats]:
    left = limits.points // 4
    out: list[Floats] = []
    for part, is_ring in zip(parts, closed, strict=True):
        run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(part, axis=0).T))])
        left -= math.ceil(run[-1] / sum(pattern)) * len(pattern)
        if left < 0:
            raise TooBigError("the dashes are too many", where=where)
        pieces = _dash(part, run, pattern, offset)
        whole = len(pieces) > 1 and is_ring
        if whole and (pieces[0][0] == part[0]).all() and (pieces[-1][-1] == part[-1]).all():
            pieces = [np.concatenate([pieces[-1], pieces[0][1:]]), *pieces[1:-1]]  # one dash over the ring's seam
        out += pieces
    return out


def _dash(points: Floats, run: Floats, pattern: list[float], offset: float) -> list[Floats]:
    """(k, 2) pieces of a (p, 2) line with arc lengths `run`; the pattern begins with a dash.

    Source: SVG 2, section 13.5.6.
    """
    period = sum(pattern)
    edges = np.cumsum([0.0, *pattern])[:-1]
    begin_at = math.fmod(offset, period)
    turns = np.arange(math.floor(begin_at / period), math.ceil((run[-1] + begin_at) / period) + 1)
    cuts = (turns[:, None] * period + edges - begin_at).ravel()
    begin, end = np.clip(cuts[0::2], 0, run[-1]), np.clip(cuts[1::2], 0, run[-1])
    pieces: list[Floats] = []
    for b, e in zip(begin[end > begin], end[end > begin], strict=True):
        inner = (run > b) & (run < e)
        at = np.concatenate([[b], run[inner], [e]])
        pieces.append(np.column_stack([np.interp(at, run, points[:, 0]), np.interp(at, run, points[:, 1])]))
    return pieces


def band(lines: Objects, width: float, style: Style, chord: float) -> Objects:
    """The regions that a stroke of a width covers, with its joins and caps."""
    radius = width / 2
    quarter = int(np.clip(np.ceil(np.pi / 4 / np.sqrt(2 * chord / max(radius, chord))), 2, 64))
    wide = shapely.buffer(
        lines,
        radius,
        quad_segs=quarter,
        cap_style=_CAP.get(style.get("stroke-linecap", "butt"), "flat"),
        join_style=_JOIN.get(style.get("stroke-linejoin", "miter"), "mitre"),
        mitre_limit=max(1.0, length(style.get("stroke-miterlimit"), 1, 4.0)),
    )
    return polygons_of(shapely.union_all(wide))
