"""SVG bytes to a tree of elements: safe XML, element names, references inside the file, places for messages.

Refuses declarations inside a DOCTYPE (a bare DOCTYPE is harmless and common), too many or too deep elements, and
bytes that are not XML. Nothing outside the bytes is ever looked at.
"""

import re
from typing import NoReturn
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from engine.artwork.limits import Limits
from engine.kernel.errors import NotArtworkError, TooBigError

__all__ = ["SvgTree"]

SVG = "{http://www.w3.org/2000/svg}"
XLINK = "{http://www.w3.org/1999/xlink}href"
_REFERENCE = re.compile(r"\s*(?:url\(\s*['\"]?)?#([^'\")]+)['\"]?\s*\)?")
LONGEST_REFERENCE = 500  # characters: a longer one is no name in the file, and is not looked through


# The library ships no types, so to the checker its class is Any, and there is no typed way to subclass that; parsing
# safely is worth more than parsing by a parser of our own.
class _Parser(DefusedXMLParser):  # type: ignore[misc]
    """Counts while it parses, so that a bomb is stopped before it is built; keeps the line of each element."""

    def __init__(self, limits: Limits) -> None:
        super().__init__(target=TreeBuilder(), forbid_dtd=True, forbid_entities=True, forbid_external=True)
        self.lines: dict[Element, int] = {}
        self._limits, self._depth = limits, 0

    def _start(self, tag: str, attributes: list[str]) -> Element:
        self._depth += 1
        if self._depth > self._limits.depth:
            raise TooBigError(f"elements lie more than {self._limits.depth} deep", where=self._line())
        if len(self.lines) >= self._limits.elements:
            raise TooBigError(f"there are more than {self._limits.elements:,} elements", where=self._line())
        element: Element = super()._start(tag, attributes)
        self.lines[element] = self.parser.CurrentLineNumber
        return element

    def _end(self, tag: str) -> Element:
        self._depth -= 1
        ended: Element = super()._end(tag)
        return ended

    def _line(self) -> str:
        return f"line {self.parser.CurrentLineNumber}"

    def defused_start_doctype_decl(self, name: str, sysid: str, pubid: str, has_internal_subset: bool) -> None:
        """Let a DOCTYPE pass that only names the language."""
        if has_internal_subset:
            self._refuse()

    def defused_entity_decl(self, *_: object) -> NoReturn:
        """Refuse an entity, even a harmless one."""
        self._refuse()

    def _refuse(self) -> NoReturn:
        raise NotArtworkError(
            "the DOCTYPE declares entities or rules of its own",
            where=self._line(),
            hint="save as plain SVG, or delete the [ ... ] part of the DOCTYPE",
        )


class SvgTree:
    """The elements of one file. `root` is the outermost, `lines` says on which line each began."""

    def __init__(self, data: bytes, limits: Limits) -> None:
        if len(data) > limits.vector_bytes:
            raise TooBigError(f"the file has {len(data):,} bytes of at most {limits.vector_bytes:,}", where="file")
        parser = _Parser(limits)
        try:
            parser.feed(data)
            self.root: Element = parser.close()
        except ParseError as exc:
            line, column = exc.position
            raise NotArtworkError(
                "the file is not well-formed XML",
                where=f"line {line}, column {column}",
                hint="it may have been cut short; save it again",
            ) from exc
        except (DefusedXmlException, ValueError, LookupError) as exc:
            raise NotArtworkError("the file is not readable XML", where="file") from exc
        self.lines = parser.lines
        self._bare = self.root.tag == "svg"  # without a namespace: some programs forget it
        if self.name(self.root) != "svg":
            raise NotArtworkError("the outermost element is not <svg>", where=f"line {self.lines[self.root]}")
        self._ids = {e.get("id"): e for e in reversed(list(self.root.iter())) if e.get("id")}

    def name(self, element: Element) -> str:
        """Local name of an SVG element, empty for anything foreign."""
        tag = element.tag
        if tag.startswith(SVG):
            return tag[len(SVG) :]
        return tag if self._bare and "}" not in tag else ""

    def where(self, element: Element) -> str:
        """The element's place in words."""
        ident = element.get("id")
        return f"line {self.lines[element]}, <{self.name(element)}{f' id={ident[:40]}' if ident else ''}>"

    def href(self, element: Element) -> str:
        """What an element refers to, as written."""
        return (element.get("href") or element.get(XLINK) or "").strip()

    def target(self, reference: str) -> Element | None:
        """What `#id` or `url(#id)` points at inside this file; None for anything else."""
        found = _REFERENCE.match(reference) if len(reference) <= LONGEST_REFERENCE else None
        return self._ids.get(found[1].strip()) if found else None
