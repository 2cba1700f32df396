"""Art that the tool is too thick for: features thinner than its groove, and gaps between them that it cuts away.

Takes `Wanted`, the skin, the tool and what was carved; gives findings. A feature is too thin where no disc of the
groove's width fits into it (an opening, J. Serra, Image Analysis and Mathematical Morphology, 1982); a gap is closed
where the same holds of what is not wanted, and it was cut all the same. Corners of a right angle or blunter are none.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Ask, Tool, Wanted
from engine.proof.allowed import distance, field_frame, slack_mm
from engine.proof.carve_rows import Radii
from engine.proof.fidelity import CUT_MM

__all__ = ["Fine", "fine_parts", "judge_fine"]

TRUE_SHARE = 0.9  # of the groove's width: a band that is drawn as wide as the groove is not too thin
CORNER = 0.5  # of the groove's half width: a right angle's corner reaches 0.41 of it beyond the disc
LEAST_CELLS = 2.0  # of the field across half a groove: a finer groove than that is not looked for
WORTH = 0.02  # of the art's area: less is a note
LEAST_MM2 = 0.05  # smaller spots are the tips of points, which any tool rounds


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fine:
    """On the wanted field's cells: what is too thin for a groove of `width_mm`, and gaps as narrow; none where the
    cells are too coarse to tell.
    """

    width_mm: float
    thin: Bools
    gaps: Bools


def fine_parts(wanted: Wanted, skin: Skin, tools: Sequence[Tool]) -> tuple[Fine, ...]:
    """What of the wanted field, and of the gaps in it, is thinner than the groove, at the greatest depth, of the tool
    that is to cut it: of several at one place the one whose groove is the finest. One for each tool that is so asked.
    """
    art = wanted.asked(Ask.EVEN)  # what is drawn by tone, or as deep as it is wide, is as fine as it likes
    if wanted.tools is None:
        most = float(wanted.depth_mm[art].max(initial=0.0))
        return (_fine(wanted, art, skin, min(tools, key=lambda tool: tool.width_mm(most))),)
    found = []
    depths = [float(wanted.depth_mm[art & wanted.cut_by(k)].max(initial=0.0)) for k in range(len(tools))]
    for k in sorted(range(len(tools)), key=lambda k: tools[k].width_mm(depths[k])):
        own = art & wanted.cut_by(k)
        if own.any():
            found.append(_fine(wanted, own, skin, tools[k]))
            art = art & ~own
    return tuple(found)


def _fine(wanted: Wanted, art: Bools, skin: Skin, tool: Tool) -> Fine:
    """Of the art that the tool is to cut."""
    width = tool.width_mm(float(wanted.depth_mm[art].max(initial=0.0)))
    frame = field_frame(wanted)
    some = wanted.theta_rad[:: max(1, len(wanted.theta_rad) // 32)]
    radius = skin.radius(wanted.x_mm[:, None], some[None, :]).mean(axis=1)
    half, slack = 0.5 * TRUE_SHARE * width, slack_mm(frame, float(radius.max()))
    if half < LEAST_CELLS * max(frame.dx, frame.dth * float(radius.max())) or not art.any():
        none = np.zeros_like(art)
        return Fine(width_mm=width, thin=none, gaps=none)

    def beyond_discs(part: Bools) -> Bools:
        cap = half * (1.0 + CORNER) + 2.0 * slack
        holds = part & (distance(~part, radius, frame, cap) > half - slack)
        return part & (distance(holds, radius, frame, cap) > half * (1.0 + CORNER) + slack)

    return Fine(width_mm=width, thin=beyond_discs(art), gaps=beyond_discs(~art) & (wanted.depth_mm <= 0))


def judge_fine(fine: Fine, wanted: Wanted, made: Radii, skin: Skin) -> list[Finding]:
    """`too-thin` and `gap-closed`, each with the place of its largest spot. made : (nx, nt) depth carved there."""
    frame = field_frame(wanted)
    cell = frame.dx * frame.dth * skin.radius(wanted.x_mm, np.full(len(wanted.x_mm), wanted.theta_rad[0]))
    art = float((cell * (wanted.depth_mm > 0).sum(axis=1)).sum())
    closed = fine.gaps & (made > CUT_MM)
    found = []
    for spots, code, what, advice in (
        (
            fine.thin,
            "too-thin",
            f"of the art is thinner than the tool's groove of {fine.width_mm:.2g} mm and comes out as wide",
            "a finer tip, less depth, larger art, or the style outline along a single line",
        ),
        (
            closed,
            "gap-closed",
            f"is cut away between parts of the art that lie nearer than the tool's groove of {fine.width_mm:.2g} mm",
            "a finer tip, less depth, an inset of half the groove, or larger art",
        ),
    ):
        told = _largest(spots, wanted, cell)
        if told is None:
            continue
        area, where = told
        severity = Severity.WARNING if area > WORTH * art else Severity.NOTE
        amount = f"{area / art:.1%}" if code == "too-thin" else f"{area:.2g} mm2"
        found.append(Finding(severity=severity, code=code, message=f"{amount} {what}", where=where, advice=advice))
    return found


def _largest(spots: Bools, wanted: Wanted, cell_mm2: Floats) -> tuple[float, Where] | None:
    """Area of all spots worth telling, mm2, and where the largest lies; None where there are none."""
    numbers, count = _spots(spots, field_frame(wanted).whole)
    if not count:
        return None
    i, j = np.nonzero(spots)
    areas = np.bincount(numbers[i, j], cell_mm2[i], count + 1)
    area = float(areas[areas >= LEAST_MM2].sum())
    if area <= 0:
        return None
    k = np.flatnonzero(numbers[i, j] == int(areas.argmax()))
    middle = k[len(k) // 2]
    x, theta = float(wanted.x_mm[i[middle]]), float(wanted.theta_rad[j[middle]])
    return area, Where(x_mm=round(x, 3), angle_deg=round(math.degrees(theta), 3))


def _spots(part: Bools, whole: bool) -> tuple[NDArray[np.integer[Any]], int]:
    """Each cell's spot from 1, 0 for none, and how many there are; across the seam spots are one, where it closes."""
    numbers, count = label(part, np.ones((3, 3)))
    if not whole or not count:
        return numbers, count
    last, first = numbers[:, -1], numbers[:, 0]
    a, b = np.concatenate([last, last[1:], last[:-1]]), np.concatenate([first, first[:-1], first[1:]])
    meet = (a > 0) & (b > 0)
    links = coo_array((np.ones(int(meet.sum()), np.int8), (a[meet], b[meet])), shape=(count + 1, count + 1))
    parts, joined = connected_components(links, directed=False)
    return joined[numbers], int(parts) - 1
