"""The forms in which controllers log their touches: bracketed reports, plain columns, tables with named columns.

Takes bytes; gives the touches as they stand, each with its line and whether it found something, and what else the file
holds, counted by kind. Refuses (BlankError): bytes that are no text, files beyond a limit, text in which no touch is
found, tables whose columns do not say what they are. Whatever is no touch is noise here: a log holds acknowledgements,
alarms, prompts, echoed program lines.
"""

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import BlankError

__all__ = ["Named", "Touches", "find_touches"]

MOST_BYTES = 8_000_000  # a touch is some 50 bytes long, and a day's probing some thousands of them
MOST_LINES = 200_000  # of 40 bytes each in MOST_BYTES
MOST_TOUCHES = 50_000  # six days of touching at ten seconds each
GREATEST = 1e6  # mm or degrees: no machine of this size reads more
LEAST_COLUMNS, MOST_COLUMNS = 3, 6
_NUMBER = r"[+-]?(?:[0-9]{1,12}\.?[0-9]{0,12}|\.[0-9]{1,12})"
# [tag:x,y,z,a:1], the flag 0 where the touch found nothing; reports of other things carry no flag.
_REPORT = re.compile(
    rf"\[\s*([A-Za-z]\w{{0,15}})\s*:\s*({_NUMBER}(?:\s*,\s*{_NUMBER}){{2,5}})\s*:\s*([01])\s*\]", re.ASCII
)
_BROKEN = re.compile(r"\[\s*[A-Za-z]\w{0,15}\s*:[^\[\]]{0,200}:\s*[01]\s*\]", re.ASCII)
_PLAIN = re.compile(r"[+-]?(?:[0-9]{1,12}[.,]?[0-9]{0,12}|[.,][0-9]{1,12})(?:[eE][+-]?[0-9]{1,2})?", re.ASCII)
_CODE = re.compile(r"[>\s/]*(?:N[0-9]+\s*)?(?:\(|%|[GMTSF]\s*[0-9]|[XYZABC]\s*[+-]?[.0-9])", re.IGNORECASE | re.ASCII)
_LENGTHS = (("", ""), ("_mm", "mm"), ("_in", "in"))
_ANGLES = (("_deg", "deg"), ("_degrees", "deg"), ("_rad", "rad"), ("_radians", "rad"))
_NAMES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        **{f"{name}{tail}": (name, unit) for name in ("x", "z", "radius") for tail, unit in _LENGTHS},
        **{f"r{tail}": ("radius", unit) for tail, unit in _LENGTHS},
        **{f"{name}{tail}": ("angle", unit) for name in ("angle", "theta") for tail, unit in (("", ""), *_ANGLES)},
        **{f"a{tail}": ("a", unit) for tail, unit in (("", ""), *_ANGLES)},
        **dict.fromkeys(("ok", "success", "found", "flag"), ("ok", "")),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Named:
    """What the columns of a table are: `axial`, `rotary` and `radial` columns as (what, unit) pairs.

    what : x; a (the machine's word) or angle (the blank's); z (the machine's word) or radius (of the ball's lowest
    place). unit : mm, in, deg, rad, or "" where the name says none.
    """

    axial: tuple[str, str]
    rotary: tuple[str, str]
    radial: tuple[str, str]

    @property
    def on_blank(self) -> bool:
        """Whether all three are the blank's own: then x is no word of the machine either."""
        return self.rotary[0] == "angle" and self.radial[0] == "radius"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touches:
    """k touches as they stand in the log.

    values : (k, c) columns X Y Z A B C, or, where `named` says so, axial, rotary, radial. ok : (k,) False where nothing
    was found. line : (k,) from 1. form : words for the form. noise : other lines, counted by kind.
    """

    values: Floats
    ok: Bools
    line: Ints
    form: str
    noise: Mapping[str, int]
    named: Named | None = None

    def __len__(self) -> int:
        return len(self.line)


def find_touches(data: bytes) -> Touches:
    """The touches of a log, in whichever of the three forms it has."""
    lines = _text(data).splitlines()
    if len(lines) > MOST_LINES:
        raise BlankError(f"the log has more than {MOST_LINES:,} lines", where="/log", hint="cut it into pieces")
    first = "".join(c for c in lines[0][:40] if c.isprintable()) if lines else ""
    for form in (_bracketed, _table, _columns):
        found = form(lines)
        if found is not None:
            if len(found) > MOST_TOUCHES:
                raise BlankError(f"more than {MOST_TOUCHES:,} touches", where="/log", hint="cut the log into pieces")
            return found
    raise BlankError(
        f"no touch is found in {len(lines):,} lines, of which the first begins: {first}",
        where="/log",
        hint="looked for reports [tag:x,y,z,a:1], for columns x y z a of numbers alone, and for a table with a head "
        "line of names such as x, a, z or x_mm, angle_deg, radius_mm",
    )


def _text(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise BlankError(f"the log has more than {MOST_BYTES:,} bytes", where="/log", hint="cut it into pieces")
    if not data.strip():
        raise BlankError("the log is empty", where="/log", hint="was logging switched on before the program ran?")
    coding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    text = data.decode(coding, errors="replace").lstrip("\ufeff")
    if text.count("\0") * 10 > len(text):
        raise BlankError("the log is no text", where="/log", hint="save it as plain text")
    return text


def _bracketed(lines: Sequence[str]) -> Touches | None:
    if not any("[" in line and _REPORT.search(line) for line in lines):
        return None
    values, ok, at, noise, tags = [], [], [], Counter[str](), Counter[str]()
    for number, line in enumerate(lines, 1):
        reports = _REPORT.findall(line) if "[" in line else []
        for tag, words, flag in reports:
            tags[tag.lower()] += 1
            values.append([float(word) for word in words.split(",")])
            ok.append(flag == "1")
            at.append(number)
        broken = len(_BROKEN.findall(line)) - len(reports) if "[" in line else 0
        if broken > 0:
            noise["reports that cannot be read"] += broken
        elif not reports:
            noise[_kind(line)] += 1
    if len(tags) > 1:
        says = ", ".join(f"{tag} {count}" for tag, count in sorted(tags.items()))
        raise BlankError(
            f"the log holds reports of several kinds: {says}", where="/log", hint="keep those of the touches"
        )
    return _same_width(values, ok, at, "bracketed reports", noise)


def _columns(lines: Sequence[str]) -> Touches | None:
    values, at, noise = [], [], Counter[str]()
    for number, line in enumerate(lines, 1):
        cells = line.split()
        if LEAST_COLUMNS <= len(cells) <= MOST_COLUMNS and all(_PLAIN.fullmatch(cell) for cell in cells):
            row = [float(cell.replace(",", ".")) for cell in cells]
            values.append(row)
            at.append(number)
        else:
            noise[_kind(line)] += 1
    return _same_width(values, [True] * len(values), at, "columns of numbers", noise) if values else None


def _same_width(values: list[list[float]], ok: list[bool], at: list[int], form: str, noise: Counter[str]) -> Touches:
    widths = Counter(len(row) for row in values)
    if len(widths) > 1:
        usual = widths.most_common(1)[0][0]
        odd = next(k for k, row in enumerate(values) if len(row) != usual)
        raise BlankError(
            f"line {at[odd]} has {len(values[odd])} coordinates, the others have {usual}",
            where="/log",
            hint="keep the touches of one run alone",
        )
    return _checked(np.array(values, np.float64), ok, at, form, noise, None)


def _checked(
    values: Floats, ok: list[bool], at: list[int], form: str, noise: Counter[str], named: Named | None
) -> Touches:
    wild = ~(np.abs(values) < GREATEST).all(axis=1)
    if wild.any():
        line = at[int(wild.argmax())]
        raise BlankError(f"line {line} holds a position that no machine reaches", where="/log", hint="mend the line")
    return Touches(
        values=values,
        ok=np.array(ok, np.bool_),
        line=np.array(at, np.int64),
        form=form,
        noise=MappingProxyType(dict(sorted(noise.items()))),
        named=named,
    )


def _table(lines: Sequence[str]) -> Touches | None:
    for number, line in enumerate(lines, 1):
        if "x" not in line and "X" not in line:
            continue
        for separator in (";", "\t", ","):
            names = [cell.strip().strip('"').strip().lower() for cell in line.split(separator)]
            known = [_NAMES.get(name) for name in names]
            if len(names) >= LEAST_COLUMNS and sum(k is not None for k in known) >= LEAST_COLUMNS:
                return _rows(lines, number, separator, names)
    return None


def _rows(lines: Sequence[str], head: int, separator: str, names: list[str]) -> Touches:
    """The rows under a head line."""
    named, places = _named(names)
    flag = next((k for k, name in enumerate(names) if _NAMES.get(name, ("", ""))[0] == "ok"), None)
    values, ok, at = [], [], []
    noise = Counter(_kind(line) for line in lines[: head - 1])
    for number, line in enumerate(lines[head:], head + 1):
        cells = [cell.strip().strip('"').strip() for cell in line.split(separator)]
        row = [_number(cells[k], separator) for k in places] if len(cells) == len(names) else [math.nan]
        if any(math.isnan(v) for v in row):
            noise[_kind(line) if len(cells) != len(names) else "rows that cannot be read"] += 1
            continue
        values.append(row)
        ok.append(flag is None or cells[flag].lower() not in ("0", "false", "no"))
        at.append(number)
    if not values:
        raise BlankError("the table has a head line and no row of numbers", where="/log", hint="save it again as CSV")
    return _checked(np.array(values, np.float64), ok, at, "a table with named columns", noise, named)


def _named(names: list[str]) -> tuple[Named, list[int]]:
    """What the three columns are and where; BlankError where one is missing, said twice, or has no unit."""
    found: dict[str, tuple[int, tuple[str, str]]] = {}
    for k, name in enumerate(names):
        what = _NAMES.get(name)
        if what is None or what[0] == "ok":
            continue
        axis = {"x": "axial", "a": "rotary", "angle": "rotary", "z": "radial", "radius": "radial"}[what[0]]
        if axis in found:
            raise BlankError(
                f"the columns {names[found[axis][0]]} and {name} say the same", where="/log", hint="keep one of them"
            )
        if what == ("angle", ""):
            raise BlankError(f"column {name} has no unit", where="/log", hint=f"name it {name}_deg or {name}_rad")
        found[axis] = k, what
    missing = [axis for axis in ("axial", "rotary", "radial") if axis not in found]
    if missing:
        raise BlankError(
            f"the table has no {missing[0]} column; it has {', '.join(names)[:120]}",
            where="/log",
            hint="name the columns x_mm, angle_deg and radius_mm, or x, a and z as the machine's words",
        )
    named = Named(axial=found["axial"][1], rotary=found["rotary"][1], radial=found["radial"][1])
    return named, [found[axis][0] for axis in ("axial", "rotary", "radial")]


def _number(cell: str, separator: str) -> float:
    """A cell's number, NaN where it is none; a decimal comma where the comma does not part the cells."""
    if not _PLAIN.fullmatch(cell) or (separator == "," and "," in cell):
        return math.nan
    return float(cell.replace(",", "."))


def _kind(line: str) -> str:
    """What a line that is no touch is, in words."""
    text = line.strip()
    if not text:
        return "blank lines"
    if text in (">", "$", "#", "?"):
        return "prompts"
    low = text.lstrip("> ").lower()
    if low == "ok" or low.startswith("ok "):
        return "acknowledgements"
    if low.startswith(("alarm", "error", "!!")):
        return "alarms and errors"
    return "program lines" if _CODE.match(text) else "other lines"
