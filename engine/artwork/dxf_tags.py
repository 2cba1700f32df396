"""DXF bytes to entities: pairs of a group code and a value, cut where code 0 begins the next.

Takes the text form of any year and both binary forms. A value of the binary form keeps its type, one of the text form
stays a text until it is asked for; what nobody asks for is never looked at. Source of the codes: the published DXF
reference, "Group Codes in Numerical Order" and "Binary DXF Files".
"""

import re
import struct
from collections.abc import Iterator, Sequence

from engine.artwork.limits import Limits
from engine.kernel.errors import NotArtworkError, TooBigError

__all__ = ["Entity", "Value", "is_dxf", "named", "sections"]

BINARY_MARK = b" Binary DXF\r\n\x1a\x00"
TEXT_START = 65_536  # bytes in which a text form shows itself, comments before it
MARK_AT, BODY_AT = 7, 22  # bytes: the mark follows a name of seven letters
_TEXT_START = re.compile(rb"(?:\xef\xbb\xbf)?\s*(?:999[ \t]*\r?\n[^\n]*\n\s*)*0[ \t]*\r?\n[ \t]*SECTION[ \t]*\r?\n")
_CODE_PAGE = re.compile(rb"\$DWGCODEPAGE\s+3\s+([A-Za-z0-9_]+)")
_UNICODE = re.compile(r"\\[Uu]\+([0-9A-Fa-f]{4})")
EMBEDDED = 101  # from this code on an entity holds another one, with codes of its own
FARTHEST = 1e12  # units: far beyond any drawing, and products of several are still numbers
READ = ("TABLES", "BLOCKS", "ENTITIES")
Value = str | float

# first code, last code, how a value of the binary form is packed; "" is a text to its zero byte, "*" a counted chunk
_PACKED = (
    *((0, 9, ""), (10, 59, "<d"), (60, 79, "<h"), (90, 99, "<i"), (100, 109, ""), (110, 149, "<d"), (160, 169, "<q")),
    *((170, 179, "<h"), (210, 239, "<d"), (270, 289, "<h"), (290, 299, "<b"), (300, 309, ""), (310, 319, "*")),
    *((320, 369, ""), (370, 389, "<h"), (390, 399, ""), (400, 409, "<h"), (410, 419, ""), (420, 429, "<i")),
    *((430, 439, ""), (440, 459, "<i"), (460, 469, "<d"), (470, 481, ""), (999, 999, ""), (1000, 1003, "")),
    *((1004, 1004, "*"), (1005, 1009, ""), (1010, 1059, "<d"), (1060, 1070, "<h"), (1071, 1071, "<i")),
)
_FORM = {code: form for first, last, form in _PACKED for code in range(first, last + 1)}


def is_dxf(data: bytes) -> bool:
    """Whether the bytes begin like a DXF file, text or binary."""
    return data[MARK_AT:BODY_AT] == BINARY_MARK or _TEXT_START.match(data, 0, TEXT_START) is not None


class Entity:
    """One entity, or one entry of a table: its kind, and its values by group code. `where` is for a person to find."""

    __slots__ = ("_codes", "_first", "_values", "kind", "where")

    def __init__(self, kind: str, codes: Sequence[int], values: Sequence[Value], where: str) -> None:
        self.kind, self.where = kind, where
        if EMBEDDED in codes:
            codes = codes[: codes.index(EMBEDDED)]
        self._codes, self._values = codes, values
        self._first = dict(zip(reversed(codes), reversed(values[: len(codes)]), strict=True))

    def __iter__(self) -> Iterator[tuple[int, Value]]:
        return iter(zip(self._codes, self._values, strict=False))

    def has(self, code: int) -> bool:
        """Whether the entity states a value of this code."""
        return code in self._first

    def number(self, code: int, default: float = 0.0) -> float:
        """The first value of a code as a number."""
        return self.as_number(self._first.get(code, default))

    def whole(self, code: int, default: int = 0) -> int:
        """The first value of a code as a whole number."""
        return self.as_whole(self._first.get(code, default))

    def text(self, code: int, default: str = "") -> str:
        """The first value of a code as a text, without blanks at its ends."""
        return named(str(self._first.get(code, default)))

    def point(self, code: int) -> tuple[float, float, float]:
        """The point whose x has this code, y ten and z twenty more."""
        return self.number(code), self.number(code + 10), self.number(code + 20)

    def numbers(self, code: int) -> list[float]:
        """Every value of a code, in order."""
        return [self.as_number(value) for each, value in self if each == code]

    def texts(self, code: int) -> list[str]:
        """Every value of a code as it stands, in order."""
        return [str(value).rstrip("\r") for each, value in self if each == code]

    def as_number(self, value: Value) -> float:
        """A value as a number. NotArtworkError where it is none, or none of a drawing."""
        try:
            number = float(value)
        except (ValueError, OverflowError) as exc:
            raise self._no_number(value) from exc
        if not abs(number) <= FARTHEST:  # NaN fails here too
            said = f"{self.kind}: a number is not finite or far off the sheet"
            raise NotArtworkError(said, where=self.where)
        return number

    def as_whole(self, value: Value) -> int:
        """A value as a whole number. NotArtworkError where it is none."""
        try:
            return int(value)
        except (ValueError, OverflowError) as exc:
            raise self._no_number(value) from exc

    def _no_number(self, value: Value) -> NotArtworkError:
        told = str(value).strip()[:20]
        return NotArtworkError(f"{self.kind}: {told!r} stands where a number is needed", where=self.where)


def named(text: str) -> str:
    """A name or text as it is meant: without blanks at its ends, letters spelt out by their code point put in."""
    return _UNICODE.sub(lambda m: chr(int(m[1], 16)), text).strip()


def sections(data: bytes, limits: Limits) -> tuple[Entity, dict[str, list[Entity]]]:
    """The header, and the entities of each section that is read (tables, blocks, entities).

    Raises
    ------
    NotArtworkError, TooBigError.
    """
    if len(data) > limits.dxf_bytes:
        raise TooBigError(f"the drawing has {len(data):,} bytes of at most {limits.dxf_bytes:,}", where="file")
    binary = data[MARK_AT:BODY_AT] == BINARY_MARK
    codes, values = _binary(data) if binary else _text(data)
    begins = [k for k, code in enumerate(codes) if code == 0]
    if len(begins) > limits.dxf_entities:
        raise TooBigError(f"the drawing has over {limits.dxf_entities:,} entities", where="file")
    header, held = Entity("HEADER", (), (), "file"), dict[str, list[Entity]]()
    section: list[Entity] | None = None
    inside = False
    for begin, end in zip(begins, [*begins[1:], len(codes)], strict=True):
        kind = str(values[begin]).strip()
        where = f"tag {begin + 1}" if binary else f"line {2 * begin + 1}"
        if kind == "SECTION":
            entity = Entity(kind, codes[begin + 1 : end], values[begin + 1 : end], where)
            name, inside = entity.text(2), True
            section = held.setdefault(name, []) if name in READ else None
            header = entity if name == "HEADER" else header
        elif kind == "ENDSEC":
            section, inside = None, False
        elif section is not None:
            section.append(Entity(kind, codes[begin + 1 : end], values[begin + 1 : end], where))
    if inside:
        raise NotArtworkError("the DXF file is cut short", where="file", hint="save it again")
    if "ENTITIES" not in held:
        raise NotArtworkError("the DXF file has no section of entities", where="file", hint="save it again")
    return header, held


def _text(data: bytes) -> tuple[list[int], list[Value]]:
    lines = _decoded(data).rstrip().split("\n")
    whole = len(lines) // 2 * 2
    try:
        codes = list(map(int, lines[:whole:2]))
    except ValueError as exc:
        bad = next(k for k, line in enumerate(lines[:whole:2]) if not _is_whole(line))
        raise NotArtworkError(
            "the DXF file is damaged: a group code is no number", where=f"line {2 * bad + 1}", hint="save it again"
        ) from exc
    return codes, list(lines[1:whole:2])


def _is_whole(line: str) -> bool:
    try:
        int(line)
    except ValueError:
        return False
    return True


def _decoded(data: bytes) -> str:
    """The text: UTF-8 where it is that, else by the code page that the header names."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        found = _CODE_PAGE.search(data, 0, TEXT_START)
        page = found[1].decode("ascii").upper().replace("ANSI_", "CP").replace("DOS", "CP") if found else "CP1252"
        try:
            return data.decode(page, errors="replace")
        except LookupError:
            return data.decode("cp1252", errors="replace")


def _binary(data: bytes) -> tuple[list[int], list[Value]]:
    """Codes of two bytes; of one in the oldest form, where the first entity's name follows its code of one byte."""
    codes: list[int] = []
    values: list[Value] = []
    short, at = data[BODY_AT + 1 : BODY_AT + 2] != b"\x00", BODY_AT
    try:
        while at < len(data):
            code, at = (data[at], at + 1) if short and data[at] != 255 else _wide(data, at + short)
            form = _FORM.get(code)
            if form is None:
                raise NotArtworkError(f"the DXF file is damaged: no group code is {code}", where=f"byte {at}")
            value: Value
            if form == "":
                end = data.index(b"\x00", at)
                value, at = _decoded(data[at:end]), end + 1
            elif form == "*":
                value, at = "", at + 1 + data[at]
            else:
                (value,) = struct.unpack_from(form, data, at)
                at += struct.calcsize(form)
            codes.append(code)
            values.append(value)
    except (ValueError, IndexError, struct.error) as exc:
        raise NotArtworkError("the DXF file is cut short", where=f"byte {at}", hint="save it again") from exc
    return codes, values


def _wide(data: bytes, at: int) -> tuple[int, int]:
    return int(struct.unpack_from("<H", data, at)[0]), at + 2
