"""Clip paths to regions. Source: CSS Masking 1, section 5 (clip-path by reference); raw shapes in CSS are not read."""

from dataclasses import replace
from xml.etree.ElementTree import Element

import numpy as np
import shapely
from fontTools.misc.transform import Identity, Transform

from engine.artwork.canvas import Canvas
from engine.artwork.fills import Rule, fill
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.regions import Objects
from engine.artwork.svg_place import Place, cut
from engine.artwork.svg_shapes import SHAPES, shape_outline
from engine.artwork.svg_style import Cascade, Style
from engine.artwork.svg_tree import SvgTree
from engine.artwork.svg_values import length, transform
from engine.kernel.errors import ArtworkError

__all__ = ["Clips"]

EVERYWHERE = 1e8  # beyond any coordinate that is taken
BOUNDS_STEPS = 500  # flattening for a bounding box: a chord of a 500th of a user unit


class Clips:
    """The clip regions of one tree, each made once for a place."""

    def __init__(
        self, tree: SvgTree, cascade: Cascade, canvas: Canvas, chord: float, limits: Limits, notes: Notes
    ) -> None:
        self._tree, self._cascade, self._canvas = tree, cascade, canvas
        self._chord, self._limits, self._notes = chord, limits, notes
        self._made: dict[tuple[Element, Transform, tuple[float, float]], shapely.Geometry] = {}

    def clipped(self, element: Element, style: Style, place: Place, chain: frozenset[Element] = frozenset()) -> Place:
        """The place with the element's clip-path applied.

        Raises
        ------
        ArtworkError where a clip path leads back to itself.
        """
        reference = style.get("clip-path", "none")
        if reference == "none":
            return place
        target = self._tree.target(reference)
        if target is None or self._tree.name(target) != "clipPath":
            self._notes.add("clip", "a clip-path that is no <clipPath> in the file", self._tree.where(element))
            return place
        if target in chain:
            raise ArtworkError("a <clipPath> leads back to itself", where=self._tree.where(target))
        matrix = place.matrix
        if target.get("clipPathUnits") == "objectBoundingBox":
            lines = self._linework(element, Identity, place.size)
            x0, y0, x1, y1 = shapely.total_bounds(np.array(lines, object)) if lines else (0.0, 0.0, 0.0, 0.0)
            matrix = matrix.translate(x0, y0).scale(x1 - x0, y1 - y0)
        key = (target, matrix, place.size)
        if key not in self._made:
            self._made[key] = self._region(target, replace(place, matrix=matrix), chain | {target})
        region = self._made[key]
        self._canvas.spend(np.array([region], object), "clipping")
        return replace(place, clip=shapely.intersection(place.clip, region))

    def _region(self, target: Element, place: Place, chain: frozenset[Element]) -> shapely.Geometry:
        style = self._cascade.style(target, {})
        everywhere = shapely.box(-EVERYWHERE, -EVERYWHERE, EVERYWHERE, EVERYWHERE)
        place = self._moved(target, style, replace(place, clip=everywhere))
        place = self.clipped(target, style, place, chain)
        held: list[Objects] = []
        for child in target:
            held += self._part(child, style, place, chain)
        return shapely.union_all(np.concatenate(held)) if held else shapely.Polygon()

    def _part(self, child: Element, parent: Style, place: Place, chain: frozenset[Element]) -> list[Objects]:
        """The region of one child of a <clipPath>: a shape, or a <use> of one."""
        tree, kind = self._tree, self._tree.name(child)
        if kind not in SHAPES and kind != "use":
            if kind not in ("", "title", "desc", "metadata", "style"):
                self._notes.add("clip", f"<{kind}> in a <clipPath> is not used", tree.where(child))
            return []
        style = self._cascade.style(child, parent)
        if style.get("display") == "none" or style.get("visibility") in ("hidden", "collapse"):
            return []
        place = self.clipped(child, style, self._moved(child, style, place), chain)
        if kind == "use":
            found = tree.target(tree.href(child))
            if found is None or tree.name(found) not in SHAPES:
                self._notes.add("clip", "a <use> of no shape in a <clipPath>", tree.where(child))
                return []
            x, y = length(child.get("x"), place.size[0]), length(child.get("y"), place.size[1])
            return self._part(found, style, replace(place, matrix=place.matrix.translate(x, y)), chain)
        outline = shape_outline(tree, child, style, place.size, self._limits, self._notes)
        points, offsets, _ = outline.flatten(place.matrix, self._chord, self._limits.points, tree.where(child))
        rule: Rule = "evenodd" if style.get("clip-rule") == "evenodd" else "nonzero"
        return [cut(fill(points, offsets, rule, self._limits, tree.where(child)), place.clip, self._canvas)]

    def _moved(self, element: Element, style: Style, place: Place) -> Place:
        step = transform(style.get("transform"), self._tree.where(element))
        return replace(place, matrix=place.matrix.transform(step))

    def _linework(self, element: Element, matrix: Transform, size: tuple[float, float]) -> list[shapely.Geometry]:
        """Lines of an element and of what it holds, in the element's own user units, for its bounding box."""
        tree, name = self._tree, self._tree.name(element)
        if name in SHAPES:
            outline = shape_outline(tree, element, {}, size, self._limits, self._notes)
            points, _, _ = outline.flatten(matrix, 1 / BOUNDS_STEPS, self._limits.points, tree.where(element))
            return [shapely.linestrings(points)] if len(points) > 1 else []
        held: list[shapely.Geometry] = []
        if name in ("g", "a", "svg", "use", "symbol"):
            inside = list(element)
            if name == "use":
                found = tree.target(tree.href(element))
                x, y = length(element.get("x"), size[0]), length(element.get("y"), size[1])
                matrix, inside = matrix.translate(x, y), [] if found is None else [found]
            for child in inside:
                step = transform(child.get("transform"), tree.where(child))
                held += self._linework(child, matrix.transform(step), size)
        return held
