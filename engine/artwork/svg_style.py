"""The cascade: which property values hold for an element.

Presentation attributes, then style sheets by specificity, then the style attribute, then what is !important;
`inherit` obeyed. Source: CSS Cascading 4, section 6; SVG 2, section 6.
"""

from typing import Any
from xml.etree.ElementTree import Element

import cssselect2
import tinycss2

from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.artwork.svg_tree import SvgTree
from engine.kernel.errors import TooBigError

__all__ = ["Cascade", "Style"]

Style = dict[str, str]
INHERITED = frozenset(
    [
        *("color", "visibility", "fill", "fill-rule", "fill-opacity", "clip-rule", "stroke", "stroke-width"),
        *("stroke-opacity", "stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "stroke-dasharray"),
        *("stroke-dashoffset", "marker", "marker-start", "marker-mid", "marker-end"),
    ]
)
OWN = frozenset(
    [
        *("display", "opacity", "clip-path", "mask", "filter", "overflow", "transform", "transform-origin"),
        *("stop-color", "stop-opacity", "vector-effect", "mix-blend-mode"),
        *("cx", "cy", "r", "rx", "ry", "x", "y", "width", "height"),
    ]
)
# CSS may set these on shapes; as attributes they are read where the shape is
GEOMETRY = frozenset(["cx", "cy", "r", "rx", "ry", "x", "y", "width", "height"])
_Block = list[tuple[str, str, bool]]


class Cascade:
    """Styles of one tree's elements."""

    def __init__(self, tree: SvgTree, limits: Limits, notes: Notes) -> None:
        self._tree, self._limits, self._notes = tree, limits, notes
        self._inline: dict[str, _Block] = {}
        self._css_left = limits.css_bytes
        self._matcher: Any = None
        self._wrapped: dict[Element, Any] = {}
        self._read_sheets()

    def style(self, element: Element, parent: Style) -> Style:
        """Every property that holds for `element` under a parent of style `parent`."""
        own = {k: v.strip() for k, v in element.attrib.items() if (k in INHERITED or k in OWN) and k not in GEOMETRY}
        strong: Style = {}
        for key, value, important in self._from_sheets(element) + self._declared(element.get("style", "")):
            (strong if important else own)[key] = value
        own.update(strong)
        out = {k: v for k, v in parent.items() if k in INHERITED}
        for key, value in own.items():
            held = parent.get(key, "") if value == "inherit" else value
            if held:
                out[key] = held
        return out

    def _from_sheets(self, element: Element) -> _Block:
        if self._matcher is None:
            return []
        # (specificity, order, pseudo-element, block); what addresses a pseudo-element is not drawn
        matches = [m for m in self._matcher.match(self._wrapped[element]) if m[2] is None]
        return [declared for match in sorted(matches, key=lambda m: m[:2]) for declared in match[3]]

    def _declared(self, text: str) -> _Block:
        if not text:
            return []
        if text not in self._inline:
            self._spend(text)
            self._inline[text] = _block(tinycss2.parse_blocks_contents(text))
        return self._inline[text]

    def _spend(self, css: str) -> None:
        self._css_left -= len(css)
        if self._css_left < 0:
            raise TooBigError(f"there are over {self._limits.css_bytes:,} bytes of styles", where="<style>")

    def _read_sheets(self) -> None:
        tree = self._tree
        rules: list[tuple[Any, _Block]] = []
        for sheet in tree.root.iter():
            if tree.name(sheet) == "style" and sheet.get("type", "text/css") in ("text/css", ""):
                text = "".join(sheet.itertext())
                self._spend(text)
                rules += self._rules(sheet, text)
        if len(rules) * len(tree.lines) > self._limits.css_tries:
            raise TooBigError(f"{len(rules):,} style rules over {len(tree.lines):,} elements", where="<style>")
        if rules:
            self._matcher = cssselect2.Matcher()
            for selector, block in rules:
                self._matcher.add_selector(selector, block)
            root = cssselect2.ElementWrapper.from_xml_root(tree.root)
            self._wrapped = {wrapped.etree_element: wrapped for wrapped in root.iter_subtree()}

    def _rules(self, sheet: Element, text: str) -> list[tuple[Any, _Block]]:
        out: list[tuple[Any, _Block]] = []
        for rule in tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True):
            if rule.type == "qualified-rule":
                try:
                    selectors = cssselect2.compile_selector_list(rule.prelude)
                except cssselect2.SelectorError:
                    self._notes.add("css", "a selector is not understood", self._tree.where(sheet))
                    continue
                out += [(selector, _block(tinycss2.parse_blocks_contents(rule.content))) for selector in selectors]
            else:
                what = f"@{rule.lower_at_keyword}" if rule.type == "at-rule" else "a broken rule"
                self._notes.add("css", f"{what[:30]} in a style sheet is not used", self._tree.where(sheet))
        return out


def _block(nodes: list[Any]) -> _Block:
    return [
        (node.lower_name, tinycss2.serialize(node.value).strip(), node.important)
        for node in nodes
        if node.type == "declaration" and (node.lower_name in INHERITED or node.lower_name in OWN)
    ]
