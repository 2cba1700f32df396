"""The walk over an SVG tree in painted order: each element's ink goes onto the canvas.

Dark fills add; light fills and light strokes erase; dark strokes are lines. What is not drawn is noted with its kind
and place: text, images, filters, masks, patterns, markers, foreign objects, scripts, references out of the file.
"""

import math
from dataclasses import replace
from xml.etree.ElementTree import Element

import shapely
from fontTools.misc.transform import Transform

from engine.artwork.canvas import Canvas
from engine.artwork.fills import Rule, fill
from engine.artwork.flattening import FARTHEST
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.svg_clip import Clips
from engine.artwork.svg_paint import Effect, paint
from engine.artwork.svg_place import Place, cut
from engine.artwork.svg_shapes import SHAPES, box, shape_outline
from engine.artwork.svg_stroke import band, stroke_lines
from engine.artwork.svg_style import Cascade, Style
from engine.artwork.svg_tree import SvgTree
from engine.artwork.svg_values import length, share, transform, view, view_box
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import ArtworkError, TooBigError

__all__ = ["SILENT", "Walk"]

# drawn by reference alone, or no picture at all
SILENT = frozenset(
    [
        *("", "defs", "clipPath", "style", "title", "desc", "metadata", "linearGradient", "radialGradient", "symbol"),
        *("stop", "mask", "marker", "pattern", "filter", "view", "cursor"),
    ]
)
_HINTS = {
    "text": "<text> is not used: turn it into outlines",
    "image": "<image> is not used: add the picture as artwork of its own",
}
_NOT_APPLIED = (("mask", "none"), ("filter", "none"), ("mix-blend-mode", "normal"), ("transform-origin", "0 0"))


class Walk:
    """One walk over one tree. unit : sheet units to a px. chord : of flattened curves, sheet units."""

    def __init__(self, tree: SvgTree, canvas: Canvas, unit: float, chord: float, limits: Limits, notes: Notes) -> None:
        self._tree, self._canvas, self._unit, self._chord = tree, canvas, unit, chord
        self._limits, self._notes = limits, notes
        self._points_left = limits.points
        self._cascade = Cascade(tree, limits, notes)
        self._clips = Clips(tree, self._cascade, canvas, chord, limits, notes)

    def draw(self, root: Element, place: Place) -> None:
        """Paint everything inside the outermost element."""
        style = self._cascade.style(root, {})
        if style.get("transform", "none") != "none":
            self._notes.add("transform", "a transform of the whole picture is not used", self._tree.where(root))
        self._inside(root, place, style)

    def _inside(self, element: Element, place: Place, style: Style) -> None:
        for child in element:
            self._element(child, place, style)

    def _element(self, element: Element, place: Place, parent: Style) -> None:
        name, where = self._tree.name(element), self._tree.where(element)
        if name in SILENT:
            return
        style = self._cascade.style(element, parent)
        if style.get("display") == "none":
            self._notes.add("hidden", "hidden elements are not used", where)
            return
        if name not in SHAPES and name not in ("svg", "g", "a", "switch", "use"):
            self._notes.add(name, _HINTS.get(name, f"<{name[:30]}> is not used"), where)
            return
        for key, usual in _NOT_APPLIED:
            if style.get(key, usual) != usual:
                self._notes.add(key, f"{key} is not applied", where)
        place = replace(
            place,
            matrix=place.matrix.transform(transform(style.get("transform"), where)),
            opacity=place.opacity * share(style.get("opacity")),
        )
        place = self._clips.clipped(element, style, place)
        if name in SHAPES:
            self._shape(element, name, place, style)
        elif name == "use":
            self._use(element, place, style)
        elif name == "svg":
            self._viewport(element, place, style, (element.get("width"), element.get("height")))
        elif name == "switch":
            self._switch(element, place, style)
        else:
            self._inside(element, place, style)

    def _switch(self, element: Element, place: Place, style: Style) -> None:
        """Draw the first child that asks for no language, or for English."""
        for child in element:
            language = child.get("systemLanguage", "en").split(",")[0].strip()
            if self._tree.name(child) not in SILENT and language.startswith("en"):
                self._element(child, place, style)
                return

    def _use(self, element: Element, place: Place, style: Style) -> None:
        target = self._tree.target(self._tree.href(element))
        if target is None:
            where = self._tree.where(element)
            self._notes.add("reference", "a <use> of something missing or outside the file", where)
            return
        x, y = length(element.get("x"), place.size[0]), length(element.get("y"), place.size[1])
        place = replace(place, matrix=place.matrix.translate(x, y))
        name = self._tree.name(target)
        if name in ("symbol", "svg"):
            inner = self._cascade.style(target, style)
            if inner.get("display") != "none":
                step = transform(inner.get("transform"), self._tree.where(target))
                sides = (
                    element.get("width") or target.get("width"),
                    element.get("height") or target.get("height"),
                )
                self._viewport(target, replace(place, matrix=place.matrix.transform(step)), inner, sides)
        else:
            self._element(target, place, style)

    def _viewport(self, element: Element, place: Place, style: Style, sides: tuple[str | None, str | None]) -> None:
        """Draw a nested <svg> or a <symbol>: its own viewBox, clipped to its box unless overflow is visible."""
        w, h = (length(side, whole, whole) for side, whole in zip(sides, place.size, strict=True))
        if not (w > 0 and h > 0):
            return
        x, y = length(element.get("x"), place.size[0]), length(element.get("y"), place.size[1])
        clip = place.clip
        if style.get("overflow", "hidden") not in ("visible", "auto"):
            edge, _, _ = box(x, y, w, h).flatten(
                place.matrix, self._chord, self._limits.points, self._tree.where(element)
            )
            clip = shapely.intersection(clip, shapely.polygons(edge))
        held = view_box(element.get("viewBox"))
        matrix = place.matrix.transform(view(held, element.get("preserveAspectRatio"), x, y, w, h))
        size = held[2:] if held else (w, h)
        self._inside(element, replace(place, matrix=matrix, size=size, clip=clip), style)

    def _shape(self, element: Element, name: str, place: Place, style: Style) -> None:
        where = self._tree.where(element)
        if style.get("visibility") in ("hidden", "collapse"):
            self._notes.add("hidden", "hidden elements are not used", where)
            return
        outline = shape_outline(self._tree, element, style, place.size, self._limits, self._notes)
        points, offsets, closed = outline.flatten(place.matrix, self._chord, self._limits.points, where)
        self._points_left -= len(points)
        if self._points_left < 0:
            raise TooBigError(f"the drawing flattens to over {self._limits.points:,} points", where=where)
        if not len(points):
            return
        effect = None if name == "line" else self._paint(element, style, "fill", place)
        if effect in (Effect.ADDS, Effect.ERASES):
            rule: Rule = "evenodd" if style.get("fill-rule") == "evenodd" else "nonzero"
            regions = cut(fill(points, offsets, rule, self._limits, where), place.clip, self._canvas)
            (self._canvas.add if effect is Effect.ADDS else self._canvas.erase)(regions)
        if any(style.get(key, "none") != "none" for key in ("marker-start", "marker-mid", "marker-end", "marker")):
            self._notes.add("marker", "markers are not used", where)
        self._stroke(element, place, style, points, offsets, closed)

    def _stroke(
        self, element: Element, place: Place, style: Style, points: Floats, offsets: Ints, closed: Bools
    ) -> None:
        where, diagonal = self._tree.where(element), math.hypot(*place.size) / math.sqrt(2)
        scale = self._unit if style.get("vector-effect") == "non-scaling-stroke" else place.scale
        width = length(style.get("stroke-width"), diagonal, 1.0) * scale
        effect = self._paint(element, style, "stroke", place) if width > 0 else None
        if effect not in (Effect.ADDS, Effect.ERASES):
            return
        if not width <= FARTHEST:
            raise ArtworkError("the stroke's width is not finite, or wider than any sheet", where=where)
        lines = stroke_lines(style, points, offsets, closed, scale, diagonal, self._limits, where)
        if not len(lines):
            return
        if effect is Effect.ADDS:
            self._canvas.line(cut(lines, place.clip, self._canvas))
        else:
            self._canvas.erase(cut(band(lines, width, style, self._chord), place.clip, self._canvas))

    def _paint(self, element: Element, style: Style, which: str, place: Place) -> Effect | None:
        return paint(self._tree, self._cascade, element, style, which, place.opacity, self._notes)


def sheet_matrix(unit: float, width: float, height: float) -> Transform:
    """From px, y down from the upper left corner, to sheet units, y up from the middle."""
    return Transform(unit, 0, 0, -unit, -unit * width / 2, unit * height / 2)
