"""SVG bytes to a drawing. The extent is the outermost viewport; 96 px to the inch.

The file states its size where width or height is given in mm, cm, in, pt, pc or Q. Px and bare numbers are the
screen's, and many programs write them without meaning a length: the drawing's numbers are then px.
"""

import re
from dataclasses import dataclass
from xml.etree.ElementTree import Element

import shapely

from engine.artwork.canvas import Canvas
from engine.artwork.drawing import Drawing
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.regions import flat_lines, rings_of
from engine.artwork.svg_place import Place
from engine.artwork.svg_tree import SvgTree
from engine.artwork.svg_values import LONGEST_VALUE, PX_MM, length, view, view_box
from engine.artwork.svg_walk import SILENT, Walk, sheet_matrix
from engine.kernel.errors import ArtworkError, EmptyError, TooBigError

__all__ = ["describe_svg", "read_svg"]

_PHYSICAL = re.compile(r"[\s\d.eE+-]*(mm|cm|in|pt|pc|q)\s*", re.IGNORECASE)
SLIVER_CHORDS = 1e-3  # a region thinner than this share of the chord is a rounding of two edges that should meet


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """The outermost viewport, px."""

    width: float
    height: float
    has_size: bool

    @property
    def unit(self) -> float:
        """Sheet units to a px."""
        return PX_MM if self.has_size else 1.0


def describe_svg(data: bytes, limits: Limits) -> tuple[float, float, bool]:
    """(width, height, whether the file states them): mm where it does, else px.

    Raises
    ------
    NotArtworkError, TooBigError, ArtworkError.
    """
    sheet = _sheet(SvgTree(data, limits), limits)
    return sheet.width * sheet.unit, sheet.height * sheet.unit, sheet.has_size


def read_svg(data: bytes, limits: Limits, *, chord_mm: float, chord_share: float) -> Drawing:
    """The drawing of an SVG file, curves flattened to `chord_mm` at 96 px to the inch, and never more than
    `chord_share` of the longer side.

    Raises
    ------
    NotArtworkError, TooBigError, EmptyError, ArtworkError, each saying where.
    """
    tree, notes, canvas = SvgTree(data, limits), Notes(), Canvas(limits)
    sheet = _sheet(tree, limits)
    unit = sheet.unit
    chord = min(chord_mm / PX_MM, chord_share * max(sheet.width, sheet.height)) * unit
    width, height = sheet.width * unit, sheet.height * unit
    try:
        _Uses(tree, limits).check(tree.root)
        held = view_box(tree.root.get("viewBox"))
        fitted = view(held, tree.root.get("preserveAspectRatio"), 0, 0, sheet.width, sheet.height)
        place = Place(
            matrix=sheet_matrix(unit, sheet.width, sheet.height).transform(fitted),
            size=held[2:] if held else (sheet.width, sheet.height),
            clip=shapely.box(-width / 2, -height / 2, width / 2, height / 2),
        )
        Walk(tree, canvas, unit, chord, limits, notes).draw(tree.root, place)
        regions, lines = canvas.finish(SLIVER_CHORDS * chord)
    except shapely.errors.GEOSException as exc:
        raise ArtworkError("the shapes cannot be joined", where="file", hint="simplify the drawing") from exc
    except RecursionError as exc:
        raise TooBigError("styles or elements are nested too deep", where="file") from exc
    drawing = Drawing(
        width_mm=width,
        height_mm=height,
        has_size=sheet.has_size,
        rings=rings_of(regions),
        lines=flat_lines(lines),
        notes=notes.all(),
    )
    if drawing.is_empty:
        left = "; ".join(f"{note.message}, {note.where}" for note in drawing.notes[:4])
        raise EmptyError(
            "nothing in the SVG file can be cut", where="file", hint=left or "it holds no mark darker than mid grey"
        )
    return drawing


def _sheet(tree: SvgTree, limits: Limits) -> _Sheet:
    """The outermost viewport; a side that is missing follows from the viewBox."""
    root = tree.root
    held = view_box(root.get("viewBox"))
    texts = (root.get("width"), root.get("height"))
    w, h = (length(text, held[2 + i] if held else 0.0) for i, text in enumerate(texts))
    if held and w > 0 and h <= 0:
        h = w * held[3] / held[2]
    elif held and h > 0 and w <= 0:
        w = h * held[2] / held[3]
    elif held and not (w > 0 and h > 0):
        w, h = held[2], held[3]
    where, most = tree.where(root), limits.side_mm / PX_MM
    if not (w > 0 and h > 0):
        raise ArtworkError(
            "the SVG file states no size", where=where, hint="give <svg> a viewBox, or a width and a height"
        )
    if not (w <= most and h <= most):
        raise TooBigError(f"the picture is {w:g} by {h:g} px, over {limits.side_mm:g} mm", where=where)
    stated = any(text and len(text) <= LONGEST_VALUE and _PHYSICAL.fullmatch(text) for text in texts)
    return _Sheet(width=w, height=h, has_size=stated)


class _Uses:
    """Counts elements with what `use` brings in, before anything is drawn, and finds circles."""

    def __init__(self, tree: SvgTree, limits: Limits) -> None:
        self._tree, self._limits = tree, limits
        self._held: dict[Element, tuple[int, int]] = {}  # elements, levels
        self._open: set[Element] = set()

    def check(self, root: Element) -> None:
        """Refuse circles, too many and too deep elements.

        Raises
        ------
        ArtworkError, TooBigError.
        """
        self._count(root)

    def _count(self, element: Element) -> tuple[int, int]:
        if element in self._held:
            return self._held[element]
        tree, limits = self._tree, self._limits
        if element in self._open:
            raise ArtworkError("a <use> leads back to itself", where=tree.where(element))
        self._open.add(element)
        inside = [child for child in element if tree.name(child) not in SILENT]
        if tree.name(element) == "use":
            target = tree.target(tree.href(element))
            inside += [] if target is None else [target]
        counted = [self._count(child) for child in inside]
        total, levels = 1 + sum(c[0] for c in counted), 1 + max((c[1] for c in counted), default=0)
        if levels > limits.depth:
            raise TooBigError(
                f"elements, with what <use> brings in, lie over {limits.depth} deep", where=tree.where(element)
            )
        if total > limits.elements:
            raise TooBigError(f"<use> makes more than {limits.elements:,} elements", where=tree.where(element))
        self._open.discard(element)
        self._held[element] = total, levels
        return total, levels
