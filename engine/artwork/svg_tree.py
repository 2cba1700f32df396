"""SVG bytes to a tree of elements: safe XML, element names, references inside the file, places for messages.

Refuses declarations inside a DOCTYPE (a bare DOCTYPE is harmless and common), too many or too deep elements, and
bytes that are not XML. Nothing outside the bytes is ever looked at.
"""

import re
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


class _Builder(TreeBuilder):
    """Counts while it builds, so that a bomb is stopped before it is there; keeps the line of each element."""

    def __init__(self, limits: Limits) -> None:
        super().__init__()
        self.parser = DefusedXMLParser(target=self, forbid_dtd=False, forbid_entities=True, forbid_external=True)
        self.parser.parser.StartDoctypeDeclHandler = self._declared
        self.lines: dict[Element, int] = {}
        self._limits, self._depth = limits, 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        """Begin an element."""
        self._depth += 1
        if self._depth > self._limits.depth:
            raise TooBigError(f"elements lie more than {self._limits.depth} deep", where=self._line())
        if len(self.lines) >= self._limits.elements:
            raise TooBigError(f"there are more than {self._limits.elements:,} elements", where=self._line())
        element = super().start(tag, attrs)
        self.lines[element] = self.parser.parser.CurrentLineNumber
        return element

    def end(self, tag: str, /) -> Element:
        """End an element."""
        self._depth -= 1
        return super().end(tag)

    def _line(self) -> str:
        return f"line {self.parser.parser.CurrentLineNumber}"

    def _declared(self, _name: str, _system: str, _public: str, has_internal_subset: bool) -> None:
        """Let a DOCTYPE pass that only names the language; one with an entity, even a harmless one, is refused."""
        if has_internal_subset:
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
        builder = _Builder(limits)
        try:
            builder.parser.feed(data)
            self.root: Element = builder.parser.close()
        except ParseError as exc:
            line, column = exc.position
            raise NotArtworkError(
                "the file is not well-formed XML",
                where=f"line {line}, column {column}",
                hint="it may have been cut short; save it again",
            ) from exc
        except (DefusedXmlException, ValueError, LookupError) as exc:
            raise NotArtworkError("the file is not readable XML", where="file") from exc
        self.lines = builder.lines
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
