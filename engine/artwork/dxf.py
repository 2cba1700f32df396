"""DXF bytes to a drawing: lines are lines; hatches, solids and the letters of texts are regions; points are left out.

Seen from above, in plan. Nothing is filled but hatches, solids and letters (by the even-odd rule over the loops of
each), unless closed lines are asked to be. The extent is that of what is drawn. A file that states no unit of a
workshop is a question to the person, unless its size is said where it is placed; then, and where its drawing is larger
than any sheet, as a map in metres is, it gives the proportion alone.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import shapely

from engine.artwork.canvas import Canvas
from engine.artwork.drawing import Drawing
from engine.artwork.dxf_blocks import read_blocks
from engine.artwork.dxf_join import closed, join, without_doubles
from engine.artwork.dxf_layers import Layers
from engine.artwork.dxf_place import Laid, lay_blocks, used_layers
from engine.artwork.dxf_tags import Entity, sections
from engine.artwork.fills import fill
from engine.artwork.flattening import flatten
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.regions import Objects, rings_of
from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import ArtworkError, EmptyError, QuestionError, TooBigError
from engine.kernel.ragged import Ragged
from engine.kernel.units import INCH_MM

__all__ = ["UNIT_MM", "DrawingChoice", "Unit", "describe_dxf", "read_dxf"]

Unit = Literal["mm", "inch", "cm", "m"]
UNIT_MM: dict[str, float] = {"mm": 1.0, "inch": INCH_MM, "cm": 10.0, "m": 1000.0}
SURVEY_M = 1200 / 3937  # of its foot
# $INSUNITS of the published DXF reference; the inch by the agreement of 1959
STATED_MM = dict(
    enumerate(
        (25.4, 304.8, 1_609_344.0, 1.0, 10.0, 1e3, 1e6, 25.4e-6, 0.0254, 914.4, 1e-7, 1e-6, 1e-3, 100.0, 1e4, 1e5), 1
    )
) | {21: 1e3 * SURVEY_M, 22: 1e3 * SURVEY_M / 12, 23: 3e3 * SURVEY_M, 24: 5.28e6 * SURVEY_M}
SIZELESS = 0.001  # mm or units: the height of a drawing of one level line
JOIN_MM = 0.01  # ends as near as the tool path is exact are one
JOIN_SHARE = 1.0 / 2000  # of the longer side: on a small drawing, less
SLIVER_CHORDS = 1e-3
ROUGHLY = 1e-4  # of the longer side: how near a description's size is
TINIEST = 1e-12
FARTHEST_UNITS = 1e15  # beyond, doubles lie more than an eighth of a unit apart


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingChoice:
    """How a DXF file is to be taken. unit : None is the file's own. layers : None is all that are on.
    fill_closed : closed lines become regions, even-odd over all of them.
    """

    unit: Unit | None = None
    layers: tuple[str, ...] | None = None
    fill_closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opened:
    """What is drawn, in the file's own units. unit_mm : as the file states it, or None."""

    unit_mm: float | None
    layers: Layers
    lines: Laid
    fills: Laid
    notes: Notes

    @property
    def is_empty(self) -> bool:
        return not len(self.lines.control) and not len(self.fills.control)

    @property
    def box(self) -> Floats:
        """(2, 2) least and greatest x and y of the control points: around the curves, and hardly larger."""
        points = np.concatenate([self.lines.control, self.fills.control]).reshape(-1, 2)
        if not (np.abs(points) <= FARTHEST_UNITS).all():  # NaN fails here too
            raise ArtworkError("a coordinate is not finite or far off the sheet", where="file")
        return np.array([points.min(0), points.max(0)])

    def flat(self, unit_mm: float, chord: float, limits: Limits) -> tuple[Ragged, Ragged, Floats]:
        """Lines, edges of areas and (2,) width and height, mm, about the middle of the extent."""
        shift = self.box.mean(0)
        found = []
        for laid in (self.lines, self.fills):
            control = (laid.control - shift) * unit_mm
            points, offsets = flatten(control, laid.straight, laid.begin, chord, limits.points, "file")
            found.append(Ragged(points=points, offsets=offsets))
        points = np.concatenate([part.points for part in found])
        if len(points) > limits.points:
            raise TooBigError(f"the drawing flattens to over {limits.points:,} points", where="file")
        low, high = points.min(0), points.max(0)
        lines, fills = (Ragged(points=r.points - (low + high) / 2, offsets=r.offsets) for r in found)
        return lines, fills, np.maximum(high - low, SIZELESS)


def describe_dxf(data: bytes, limits: Limits) -> tuple[float, float, bool, tuple[str, ...]]:
    """(width, height, whether the file states its unit, names of the layers): mm where it does, else units.

    Where everything is on layers that are off, the size is that of all layers.

    Raises
    ------
    NotArtworkError, TooBigError, ArtworkError, EmptyError.
    """
    opened = _opened(data, None, limits)
    names = tuple(sorted(opened.layers.names.values(), key=lambda name: (name.lower(), name)))
    if opened.is_empty:
        opened = _opened(data, names, limits)
    _refuse_empty(opened)
    unit = opened.unit_mm or 1.0
    longer = float(np.ptp(opened.box, axis=0).max()) * unit
    _, _, (width, height) = opened.flat(unit, max(ROUGHLY * longer, TINIEST), limits)
    return float(width), float(height), opened.unit_mm is not None and longer <= limits.side_mm, names


def read_dxf(
    data: bytes, limits: Limits, choice: DrawingChoice, *, sized: bool, chord_mm: float, chord_share: float
) -> Drawing:
    """The drawing of a DXF file, curves flattened to `chord_mm`, and never more than `chord_share` of the longer side.

    sized : its size is said elsewhere: a file without a unit then gives its proportion.

    Raises
    ------
    NotArtworkError, TooBigError, EmptyError, QuestionError (no unit), ArtworkError.
    """
    opened = _opened(data, choice.layers, limits)
    _refuse_empty(opened)
    notes, stated = opened.notes, _unit(opened, choice, sized=sized)
    unit = stated or 1.0
    longer = float(np.ptp(opened.box, axis=0).max()) * unit
    has_size = stated is not None and longer <= limits.side_mm
    if stated is not None and not has_size:
        notes.add("size", f"the drawing is {longer:,.0f} mm long: its own size is not used", "file")
    chord = max(min(chord_mm if has_size else np.inf, chord_share * longer), TINIEST)
    lines, fills, (width, height) = opened.flat(unit, chord, limits)
    off = min(JOIN_MM if has_size else np.inf, JOIN_SHARE * longer)
    once = without_doubles(lines, chord)
    if len(once) < len(lines):
        notes.add("double", f"{len(lines) - len(once)} lines lie on others like them: each is drawn once", "file")
    rings, lines = _filled(join(once, off), fills, opened.fills.area, choice, chord, limits)
    return Drawing(
        width_mm=float(width), height_mm=float(height), has_size=has_size, rings=rings, lines=lines, notes=notes.all()
    )


def _opened(data: bytes, chosen: tuple[str, ...] | None, limits: Limits) -> _Opened:
    header, held = sections(data, limits)
    notes = Notes()
    blocks = read_blocks(held, limits, notes)
    layers = Layers.of(held.get("TABLES", []), used_layers(blocks), chosen)
    if len(layers.names) > limits.dxf_layers:
        raise TooBigError(f"the drawing has over {limits.dxf_layers:,} layers", where="file")
    lines, fills = lay_blocks(blocks, layers, limits, notes)
    return _Opened(unit_mm=_stated_mm(header), layers=layers, lines=lines, fills=fills, notes=notes)


def _stated_mm(header: Entity) -> float | None:
    """The unit that the header states; none where it states none, or one of no workshop (astronomical)."""
    tags = list(header)
    for (code, name), (_, value) in pairwise(tags):
        if code == 9 and str(name).strip() == "$INSUNITS":
            return STATED_MM.get(header.as_whole(value))
    return None


def _unit(opened: _Opened, choice: DrawingChoice, *, sized: bool) -> float | None:
    """Millimetres of a unit; None where nobody says and it does not matter. QuestionError where it does."""
    stated = opened.unit_mm
    if choice.unit is not None:
        unit = UNIT_MM[choice.unit]
        if stated is not None and stated != unit:
            opened.notes.add("unit", f"the file states units of {stated:g} mm: {choice.unit} is used", "drawing")
        return unit
    if stated is None and not sized:
        raise QuestionError(
            "the DXF file does not say what its numbers are",
            where="drawing/unit",
            hint="say mm, inch, cm or m: whoever drew it knows; or give the art a width",
        )
    return stated


def _refuse_empty(opened: _Opened) -> None:
    if opened.is_empty:
        left = "; ".join(note.message for note in opened.notes.all()[:4])
        raise EmptyError(
            "nothing in the DXF file can be cut", where="file", hint=left or "it holds no line and no area"
        )


def _filled(
    lines: Ragged, edges: Ragged, area: Ints, choice: DrawingChoice, chord: float, limits: Limits
) -> tuple[Ragged, Ragged]:
    """(rings of the regions, lines that are left)."""
    canvas = Canvas(limits)
    try:
        begin = np.flatnonzero(np.diff(area, prepend=-1))
        for first, end in pairwise([*begin.tolist(), len(area)]):
            canvas.add(_region(edges.take(np.arange(first, end)), limits))
        if choice.fill_closed:
            shut = closed(lines)
            canvas.add(_region(lines.take(np.flatnonzero(shut)), limits))
            lines = lines.take(np.flatnonzero(~shut))
        regions, _ = canvas.finish(SLIVER_CHORDS * chord)
    except shapely.errors.GEOSException as exc:
        raise ArtworkError("the regions cannot be joined", where="file", hint="simplify the drawing") from exc
    return rings_of(regions), lines


def _region(loops: Ragged, limits: Limits) -> Objects:
    return fill(loops.points, loops.offsets, "evenodd", limits, "file")
