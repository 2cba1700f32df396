"""An SVG shape element to its outline in user units. Source: SVG 2, chapters 9 and 10."""

import math
from xml.etree.ElementTree import Element

from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.svg_outline import Outline
from engine.artwork.svg_path import path_outline
from engine.artwork.svg_style import GEOMETRY, Style
from engine.artwork.svg_tree import SvgTree
from engine.artwork.svg_values import length, numbers
from engine.kernel.errors import TooBigError

__all__ = ["SHAPES", "box", "shape_outline"]

SHAPES = frozenset(["path", "rect", "circle", "ellipse", "line", "polyline", "polygon"])


def shape_outline(
    tree: SvgTree, element: Element, style: Style, size: tuple[float, float], limits: Limits, notes: Notes
) -> Outline:
    """The outline of a shape in a viewport of `size` user units; an empty one where SVG draws nothing."""
    name, where = tree.name(element), tree.where(element)
    w, h = size
    diagonal = math.hypot(w, h) / math.sqrt(2)

    def get(key: str, reference: float, default: float = 0.0) -> float:
        text = style.get(key) if key in GEOMETRY else None
        return length(text or element.get(key), reference, default)

    if name == "path":
        outline, fault = path_outline(element.get("d", ""), limits.path_numbers, where)
        if fault:
            notes.add("path", f"{fault}; drawn up to there", where)
        return outline
    if name == "rect":
        rx, ry = _pair(get("rx", w, -1), get("ry", h, -1))
        return box(get("x", w), get("y", h), get("width", w), get("height", h), rx, ry)
    if name in ("circle", "ellipse"):
        rx, ry = (get("r", diagonal),) * 2 if name == "circle" else _pair(get("rx", w, -1), get("ry", h, -1))
        return _ellipse(get("cx", w), get("cy", h), rx, ry)
    if name == "line":
        return _polyline([get("x1", w), get("y1", h), get("x2", w), get("y2", h)], close=False)
    values = numbers(element.get("points"))
    if len(values) > limits.path_numbers:
        raise TooBigError(f"there are over {limits.path_numbers:,} numbers", where=where)
    return _polyline(values, close=name == "polygon")


def box(x: float, y: float, w: float, h: float, rx: float = 0.0, ry: float = 0.0) -> Outline:
    """A rectangle, corners rounded; empty without width or height."""
    pen = Outline()
    if not (w > 0 and h > 0):
        return pen
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx <= 0 or ry <= 0:
        pen.move((x, y))
        for to in ((x + w, y), (x + w, y + h), (x, y + h)):
            pen.line(to)
    else:
        pen.move((x + rx, y))
        for edge, corner in (
            ((x + w - rx, y), (x + w, y + ry)),
            ((x + w, y + h - ry), (x + w - rx, y + h)),
            ((x + rx, y + h), (x, y + h - ry)),
            ((x, y + ry), (x + rx, y)),
        ):
            pen.line(edge)
            pen.arc(rx, ry, 0, False, True, corner)
    pen.close()
    return pen


def _pair(rx: float, ry: float) -> tuple[float, float]:
    """Two radii of which one that is missing (negative) is as the other."""
    return (ry if rx < 0 else rx), (rx if ry < 0 else ry)


def _ellipse(cx: float, cy: float, rx: float, ry: float) -> Outline:
    pen = Outline()
    if rx > 0 and ry > 0:
        pen.move((cx + rx, cy))
        pen.arc(rx, ry, 0, False, True, (cx - rx, cy))
        pen.arc(rx, ry, 0, False, True, (cx + rx, cy))
        pen.close()
    return pen


def _polyline(values: list[float], *, close: bool) -> Outline:
    """Pairs of coordinates; an odd number at the end is left out (SVG 2, section 10.5)."""
    pen = Outline()
    if len(values) >= 4:
        pen.move((values[0], values[1]))
        for i in range(2, len(values) - 1, 2):
            pen.line((values[i], values[i + 1]))
        if close:
            pen.close()
    return pen
