"""The pages of a paper pattern: pieces laid side by side, parted into sheets of paper that join by their crop marks.

Takes flats and the strokes that will be cut, as they lie on the skin; gives a PDF. Every sheet has its place ("row 1 of
2, sheet 2 of 3"), a bar of 100 mm to measure, and what the piece needs to be put on the blank: lines of equal angle and
of equal station, which end is up, and which way the angle grows.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from engine.artwork.lettering import Align, Text, set_text
from engine.kernel.arrays import Floats, Ints
from engine.kernel.ragged import Ragged, offsets_of, spread
from engine.kernel.units import TURN_RAD
from engine.paper.flat import Flat
from engine.paper.pdf import Page, pdf

__all__ = ["LAP_MM", "Paper", "paper_pdf"]

MARGIN_MM = 10.0  # no printer of a home prints nearer to the edge than 6.4 mm (common practice, no source)
FOOT_MM = 14.0  # of the printed part, for the bar and the words
LAP_MM = 8.0  # sheets lap by so much, and a sleeve has a tab as wide
GAP_MM = 6.0  # between gores
BAR_MM = 100.0  # the scale bar, to be measured with any rule
X_EVERY_MM, ANGLE_EVERY_DEG = 10.0, 90.0
STEP_MM = 0.5  # on the skin: how finely a stroke is bent with the paper
SMALL_MM, LARGE_MM = 2.2, 3.0


class Paper(Enum):
    """Sizes of paper, mm: ISO 216 A4, and Letter of ANSI/ASME Y14.1 (8.5 by 11 in)."""

    A4 = (210.0, 297.0)
    LETTER = (215.9, 279.4)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """A piece of paper in its place. at : (2,) what is added to its own places."""

    flat: Flat
    at: Floats


def paper_pdf(
    flats: Sequence[Flat],
    strokes: tuple[Floats, Floats, Ints],
    *,
    paper: Paper,
    name: str,
    caution: str,
) -> bytes:
    """PDF of the pieces with the strokes (x_mm, theta_rad (n,), offsets) that will be cut, on as many sheets as needed.

    name : of the job. caution : one line that stands on every sheet.
    """
    width, height = paper.value
    room = np.array([width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - FOOT_MM])
    laid, size = _side_by_side(flats)
    columns, rows = (
        max(1, math.ceil((side - LAP_MM) / (have - LAP_MM))) for side, have in zip(size, room, strict=True)
    )
    drawn = [_drawn(one.flat, strokes) for one in laid]
    pages = []
    for row in range(rows):
        for column in range(columns):
            low = np.array([column, row]) * (room - LAP_MM)
            page = Page(width_mm=width, height_mm=height)
            _pattern(page, laid, drawn, low, room)
            place = f"row {rows - row} of {rows}, sheet {column + 1} of {columns}"
            _foot(page, flats, name, place, caution)
            pages.append(page)
    return pdf(pages, f"{name}: paper pattern")


def _side_by_side(flats: Sequence[Flat]) -> tuple[list[_Laid], tuple[float, float]]:
    """The pieces in a row from (0, 0), and how wide and high they are together; the last has room for a tab."""
    laid, right, top = [], 0.0, 0.0
    low = min(flat.box[1] for flat in flats)
    for flat in flats:
        left, _, far, high = flat.box
        laid.append(_Laid(flat=flat, at=np.array([right - left, -low])))
        right += far - left + GAP_MM
        top = max(top, high - low)
    return laid, (right - GAP_MM + LAP_MM, top)


def _drawn(flat: Flat, strokes: tuple[Floats, Floats, Ints]) -> Ragged:
    """The strokes on a piece of paper, at every whole turn that reaches it; what lies beside it is clipped later."""
    x, theta, offsets = strokes
    if not len(x):
        return Ragged(points=np.zeros((0, 2)), offsets=np.zeros(1, np.int64))
    low, high = flat.theta_rad
    owner = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
    least = np.minimum.reduceat(theta, offsets[:-1])
    most = np.maximum.reduceat(theta, offsets[:-1])
    points, sizes = [np.zeros((0, 2))], [np.zeros(0, np.int64)]
    for turn in range(math.floor((low - most.max()) / TURN_RAD), math.ceil((high - least.min()) / TURN_RAD) + 1):
        reach = (most + TURN_RAD * turn > low) & (least + TURN_RAD * turn < high)
        if not reach.any():
            continue
        held = reach[owner]
        run = np.cumsum(reach)[owner[held]] - 1
        fine_x, fine_theta, count = _finely(x[held], theta[held] + TURN_RAD * turn, run, flat)
        points.append(flat.on_paper(np.clip(fine_x, *flat.x_mm), np.clip(fine_theta, low - 0.1, high + 0.1)))
        sizes.append(count)
    return Ragged(points=np.concatenate(points), offsets=offsets_of(np.concatenate(sizes)))


def _finely(x: Floats, theta: Floats, run: Ints, flat: Flat) -> tuple[Floats, Floats, Ints]:
    """The runs with places no further apart than STEP_MM on paper, about; and how many points each then has."""
    on = flat.on_paper(np.clip(x, *flat.x_mm), np.clip(theta, flat.theta_rad[0] - 0.1, flat.theta_rad[1] + 0.1))
    far = np.append(np.linalg.norm(np.diff(on, axis=0), axis=1), 0.0)
    last = np.append(run[1:] != run[:-1], True)
    count = np.where(last, 1, np.maximum(np.ceil(far / STEP_MM), 1)).astype(np.int64)
    k = np.repeat(np.arange(len(x)), count)
    share = spread(0, count) / count[k]
    after = np.minimum(k + 1, len(x) - 1)
    fine_x = x[k] + share * (x[after] - x[k])
    fine_theta = theta[k] + share * (theta[after] - theta[k])
    return fine_x, fine_theta, np.bincount(run[k])


def _pattern(page: Page, laid: Sequence[_Laid], drawn: Sequence[Ragged], low: Floats, room: Floats) -> None:
    """What of the pattern falls on a sheet whose lower left corner stands at `low`."""
    corner = np.array([MARGIN_MM, MARGIN_MM + FOOT_MM])
    frame = np.array([[0.0, 0.0], [room[0], 0.0], room, [0.0, room[1]]]) + corner
    page.within(frame)
    page.shifted(*(corner - low).tolist())
    for one, strokes in zip(laid, drawn, strict=True):
        box = np.array(one.flat.box) + np.tile(one.at, 2)
        if (box[:2] > low + room).any() or (box[2:] + LAP_MM < low).any():
            continue
        page.shifted(*one.at.tolist())
        _registers(page, one.flat)
        page.within(one.flat.outline)
        page.ink(line=0.0, width_mm=0.12)
        page.lines(strokes.points, strokes.offsets)
        page.without()
        page.ink(line=0.0, width_mm=0.25)
        closed = np.vstack([one.flat.outline, one.flat.outline[:1]])
        page.lines(closed, np.array([0, len(closed)]))
        page.without()
    _tab(page, laid[-1])
    page.without()
    page.without()
    _crop_marks(page, frame)


def _registers(page: Page, flat: Flat) -> None:
    """Lines of equal station and of equal angle, with their figures, and which end is up."""
    low, high = flat.x_mm
    first, last = flat.theta_rad
    page.within(flat.outline)
    page.ink(line=0.75, width_mm=0.1)
    across, up = np.linspace(first, last, 65), np.linspace(low, high, 201)
    stations = np.arange(math.ceil(low / X_EVERY_MM), math.floor(high / X_EVERY_MM) + 1) * X_EVERY_MM
    for x in stations.tolist():
        page.lines(flat.on_paper(np.full(65, x), across), np.array([0, 65]))
    every = math.radians(ANGLE_EVERY_DEG)
    angles = np.arange(math.ceil(first / every - 1e-9), math.floor(last / every + 1e-9) + 1) * every
    page.ink(line=0.55, width_mm=0.2)
    for theta in angles.tolist():
        page.lines(flat.on_paper(up, np.full(201, theta)), np.array([0, 201]))
    middle = 0.5 * (first + last)
    for theta in angles.tolist():
        spot = flat.on_paper(np.array([low + 0.04 * (high - low)]), np.array([theta]))[0]
        _words(page, f"{round(math.degrees(theta)) % 360} deg", spot + [1.0, 0.0], SMALL_MM)
    for x in stations.tolist():
        spot = flat.on_paper(np.array([x]), np.array([middle]))[0]
        _words(page, f"x {x:g}", spot + [1.0, 0.6], SMALL_MM)
    spot = flat.on_paper(np.array([high - 0.06 * (high - low)]), np.array([middle]))[0]
    _words(page, "up: +X   right: +A", spot + [1.0, 0.0], SMALL_MM)
    page.without()


def _tab(page: Page, one: _Laid) -> None:
    """A dashed edge beside the last piece, to be glued under the first."""
    flat = one.flat
    up = np.linspace(*flat.x_mm, 101)
    edge = flat.on_paper(up, np.full(101, flat.theta_rad[1])) + one.at
    beside = flat.on_paper(up, np.full(101, flat.theta_rad[1] - 1e-4)) + one.at
    out = edge - beside
    size = np.linalg.norm(out, axis=1)[:, None]
    tab = edge + LAP_MM * np.where(size > 0, out / np.maximum(size, 1e-12), [1.0, 0.0])  # at a pole there is no way
    page.ink(line=0.0, width_mm=0.15)
    page.dash(1.5, 1.5)
    way = np.vstack([edge[:1], tab, edge[-1:]])
    page.lines(way, np.array([0, len(way)]))
    page.dash()


def _crop_marks(page: Page, frame: Floats) -> None:
    """Marks beside the corners of the printed part, and where the next sheets' corners come to lie."""
    (left, bottom), (right, top) = frame[0], frame[2]
    page.ink(line=0.0, width_mm=0.2)
    marks = []
    for x, sense in ((left, -1.0), (right, 1.0)):
        for y in (bottom, bottom + LAP_MM, top - LAP_MM, top):
            marks.append([[x + sense * 1.0, y], [x + sense * 5.0, y]])
    for y, sense in ((top, 1.0),):
        for x in (left, left + LAP_MM, right - LAP_MM, right):
            marks.append([[x, y + sense * 1.0], [x, y + sense * 5.0]])
    page.lines(np.array(marks).reshape(-1, 2), np.arange(0, 2 * len(marks) + 1, 2))


def _foot(page: Page, flats: Sequence[Flat], name: str, place: str, caution: str) -> None:
    """The bar to measure, and the words."""
    left, line = MARGIN_MM, MARGIN_MM + 2.0
    bar = np.array([[left, line - 1.5], [left, line + 1.5], [left, line], [left + BAR_MM, line]])
    end = np.array([[left + BAR_MM, line - 1.5], [left + BAR_MM, line + 1.5]])
    page.ink(line=0.0, fill=0.0, width_mm=0.3)
    page.lines(np.vstack([bar, end]), np.array([0, 2, 4, 6]))
    _words(
        page,
        "measure this: 100 mm; else print again at 100 %, without fitting to the page",
        [left, line + 2.6],
        SMALL_MM,
    )
    worst = max(flat.edge_mm for flat in flats)
    kind = (
        "one sleeve, true everywhere" if len(flats) == 1 else f"{len(flats)} gores; edges up to {worst:.2g} mm too long"
    )
    _words(page, f"{name} - {place} - {kind}", [left, line + 6.6], LARGE_MM)
    _words(page, caution, [left + BAR_MM + 4.0, line - 0.8], SMALL_MM)


def _words(page: Page, words: str, at: Sequence[float] | Floats, size_mm: float) -> None:
    """A line of words from `at` on, as outlines."""
    if not words.strip():
        return
    text = Text(string=words, font="sans", size_mm=size_mm * 0.7, align=Align.LEFT)
    drawing = set_text(text, None).drawing
    box = np.array([0.5 * drawing.width_mm, 0.25 * drawing.height_mm])
    page.areas(drawing.rings.points + np.asarray(at) + box, drawing.rings.offsets)
