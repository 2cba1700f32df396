"""Art that is to meet itself round the blank: borders and copies fitted once round, how wide they must be, and how well
they meet.

Takes the layout and the art as it lies; gives widths on the sheet, findings, and LayoutError where a border cannot
close.
"""

from dataclasses import replace

import numpy as np

from engine.artwork import Drawing
from engine.blank import Skin
from engine.job import Item
from engine.kernel.arrays import Floats
from engine.kernel.errors import LayoutError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.layout import Layout, Placement, Projection, lay_out

__all__ = ["girth_mm", "judge_meeting", "refuse_open_border"]

CLOSED_RAD = 1e-9  # rad between the ends of a ring that is closed: no more than rounding
SEEN_MM = 0.05  # a gap or a lap that nobody sees beside a groove
PLACES = 65  # up each side of the art


def girth_mm(skin: Skin, placement: Placement) -> float:
    """Once round the circle through the art's centre, by its mean radius as layouts have it."""
    level = lay_out(skin, replace(placement, projection=Projection.EQUIDISTANT))
    return TURN_RAD / float(level.jacobian(np.zeros((1, 2)))[0, 1, 0])


def refuse_open_border(drawing: Drawing, layout: Layout) -> None:
    """LayoutError where a border as it lies on the sheet does not end where it begins, a whole turn on."""
    v = np.array([-0.5, 0.0, 0.5]) * drawing.height_mm
    ends = np.concatenate([np.stack([side * np.full(3, drawing.width_mm), v], axis=1) for side in (-0.5, 0.5)])
    x, theta = layout.wrap(ends)
    off = max(float(np.abs(theta[3:] - theta[:3] - TURN_RAD).max()), float(np.abs(x[3:] - x[:3]).max()))
    if off > CLOSED_RAD:
        raise LayoutError(
            "laid like this a border does not close round the blank",
            where="placement/projection",
            hint="choose equidistant, conformal or equal-area",
        )


def judge_meeting(item: Item, drawing: Drawing, layout: Layout) -> list[Finding]:
    """How copies that are fitted once round meet their neighbours, and what is true of their size."""
    place = Where(pointer=f"/artwork/{item.index}/repeat/fit", x_mm=item.placement.x_mm)
    message = f"{item.fits} copies of {drawing.width_mm:.4g} mm by {drawing.height_mm:.4g} mm go once round"
    gap, x = _widest_gap(item, drawing, layout)
    if abs(gap) <= SEEN_MM:
        narrow, wide = _widths(drawing, layout)
        if wide - narrow > SEEN_MM:
            message += f" and meet all the way up; on the skin each is {narrow:.4g} to {wide:.4g} mm wide"
        else:
            message += " and meet all the way up"
        return [Finding(severity=Severity.NOTE, code="copies-meet", message=message, where=place)]
    message += f" and meet at x {item.placement.x_mm:.4g}; at x {x:.4g} they "
    message += f"{'stand' if gap > 0 else 'lap'} {abs(gap):.2g} mm {'apart' if gap > 0 else 'over each other'}"
    advice = "equidistant, conformal and equal-area lay them so that they meet all the way up"
    return [Finding(severity=Severity.WARNING, code="copies-part", message=message, where=place, advice=advice)]


def _sides(drawing: Drawing, layout: Layout) -> list[tuple[Floats, Floats]]:
    """(x, theta) up the left and the right side of the art, as far as the layout holds them."""
    v = np.linspace(-0.5, 0.5, PLACES) * drawing.height_mm
    sides = [np.stack([np.full(PLACES, side * drawing.width_mm), v], axis=1) for side in (-0.5, 0.5)]
    held = layout.holds(sides[0]) & layout.holds(sides[1])
    return [layout.wrap(side[held]) for side in sides]


def _widest_gap(item: Item, drawing: Drawing, layout: Layout) -> tuple[float, float]:
    """Where neighbours are furthest apart, mm round the skin (less than 0: over each other), and the station there."""
    (left_x, left), (x, right) = _sides(drawing, layout)
    if not len(x):
        return 0.0, item.placement.x_mm
    order = np.argsort(left_x, kind="stable")
    next_left = np.interp(x, left_x[order], left[order]) + TURN_RAD / item.fits
    gap = (next_left - right) * layout.skin.radius(x, right)
    worst = int(np.argmax(np.round(np.abs(gap), 9)))
    return float(gap[worst]), float(x[worst])


def _widths(drawing: Drawing, layout: Layout) -> tuple[float, float]:
    """Least and greatest width of the art on the skin, mm round it."""
    (x, left), (_, right) = _sides(drawing, layout)
    wide = (right - left) * layout.skin.radius(x, 0.5 * (left + right))
    return float(wide.min(initial=drawing.width_mm)), float(wide.max(initial=drawing.width_mm))
