"""How a document is read: strict models, and every fault told with its JSON pointer in plain words.

Takes a parsed JSON value and a model; gives the model's value or raises JobError with all problems at once. Nothing is
coerced: a string is no number, a boolean is no number, an unknown field is refused.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from engine.kernel.errors import JobError, Problem

__all__ = [
    "Angle",
    "Document",
    "Length",
    "Name",
    "Position",
    "Rate",
    "Share",
    "Words",
    "check_depth",
    "pointer",
    "read",
]

LONGEST_MM = 10_000.0  # no lathe of a shop is longer; a length in the wrong unit or a slipped digit is
SHORTEST_MM = 0.001  # nobody measures or cuts less, and no formula runs over or under with what is left
DEEPEST = 64  # nesting levels: no document needs a tenth, and recursion stands them
# Fields that hold one of several kinds of value: the next part of a fault's place is the branch's name, no field.
_CHOICES = ("angles", "blank", "machine", "marking", "threshold", "wait")
_BRANCHES = ("given",)  # of choices whose other branch is a word
SHORT_WORD = 40  # a given word longer than this is not repeated in an answer

Length = Annotated[float, Field(ge=SHORTEST_MM, le=LONGEST_MM)]
Position = Annotated[float, Field(ge=-LONGEST_MM, le=LONGEST_MM)]
Angle = Annotated[float, Field(ge=-36_000, le=36_000)]
Rate = Annotated[float, Field(gt=0, le=1e6)]
Share = Annotated[float, Field(ge=0, le=1)]
Name = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f\x7f]+$")]
Words = Annotated[str, Field(max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$")]

_Model = TypeVar("_Model", bound="Document")


class Document(BaseModel):
    """The strictness that every part of a document shares."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False, ser_json_inf_nan="null")


def pointer(*parts: str | int) -> str:
    """JSON pointer (RFC 6901) of a place."""
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in parts)


def check_depth(value: object) -> None:
    """Refuse nesting over 64 levels before anything recursive looks at it."""
    layer: list[object] = [value]
    for _ in range(DEEPEST + 1):
        inner: list[object] = []
        for held in layer:
            if isinstance(held, Mapping):
                inner.extend(held.values())
            elif isinstance(held, list | tuple):
                inner.extend(held)
        if not inner:
            return
        layer = inner
    raise JobError([Problem(pointer="", given=None, allowed=f"at most {DEEPEST} levels of nesting")])


def read(model: type[_Model], value: object, *, at: str = "") -> _Model:
    """`value` as a `model`. Raises JobError with every fault; pointers begin with `at`."""
    check_depth(value)
    try:
        text = json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError as exc:  # before ValueError, whose kind it is
        places = sorted(set(_broken_texts(value, at)))
        raise JobError([Problem(pointer=p, given=None, allowed="a text of whole characters") for p in places]) from exc
    except (TypeError, ValueError) as exc:
        raise JobError([Problem(pointer=at, given=None, allowed="a JSON value")]) from exc
    try:
        return model.model_validate_json(text)
    except ValidationError as exc:
        problems = [_problem(fault, value, at) for fault in exc.errors(include_url=False) if not _echo(fault)]
        raise JobError(sorted(set(problems), key=lambda p: p.pointer)) from exc


def _broken_texts(value: object, place: str) -> Iterator[str]:
    """Pointers of the texts that hold half a surrogate pair; of the object that holds it where it is a field's name."""
    if isinstance(value, str) and not _whole(value):
        yield place
    elif isinstance(value, Mapping):
        for name, held in value.items():
            yield from _broken_texts(held, place + pointer(name)) if _whole(str(name)) else (place,)
    elif isinstance(value, list | tuple):
        for k, held in enumerate(value):
            yield from _broken_texts(held, place + pointer(k))


def _whole(text: str) -> bool:
    return not any("\ud800" <= c <= "\udfff" for c in text)


def _echo(fault: ErrorDetails) -> bool:
    """Whether a list is called too short only because entries of it, each told by itself, are wrong."""
    return fault["type"] == "too_short" and len(fault["input"]) >= fault["ctx"]["min_length"]


def _problem(fault: ErrorDetails, value: object, at: str) -> Problem:
    place, given = _place(fault["loc"], value), fault["input"]
    if fault["type"] in ("union_tag_invalid", "union_tag_not_found"):
        name = str(fault["ctx"]["discriminator"]).strip("'")
        place, given = [*place, name], given.get(name)
    return Problem(pointer=at + pointer(*place), given=_short(given), allowed=_allowed(fault))


def _place(loc: tuple[int | str, ...], value: object) -> list[int | str]:
    """The fault's place in the document; the names of a choice's branches, which pydantic adds, are left out."""
    parts: list[int | str] = []
    here: Any = value
    for k, part in enumerate(loc):
        if k and parts and parts[-1] == loc[k - 1] and (loc[k - 1] in _CHOICES or _is_branch(part, here)):
            continue
        if isinstance(here, Mapping):
            parts.append(part)
            here = here.get(str(part))
        elif isinstance(here, list) and isinstance(part, int):
            parts.append(part)
            here = here[part] if part < len(here) else None
    return parts


def _is_branch(part: int | str, here: object) -> bool:
    return isinstance(here, Mapping) and (part in _BRANCHES or (isinstance(part, str) and part == here.get("shape")))


def _short(given: object) -> str | int | float | bool | None:
    if isinstance(given, bool | int):
        return given if abs(given) < 1 << 53 else None
    if isinstance(given, float):
        return given if abs(given) < float("inf") else None
    return given if isinstance(given, str) and len(given) <= SHORT_WORD and given.isprintable() else None


_ALLOWED: dict[str, Callable[[Mapping[str, Any]], str]] = {
    "missing": lambda _: "this field is needed",
    "extra_forbidden": lambda _: "no field of this name is known here",
    "finite_number": lambda _: "a finite number",
    "float_type": lambda _: "a number",
    "int_type": lambda _: "a whole number",
    "int_from_float": lambda _: "a whole number",
    "bool_type": lambda _: "true or false",
    "string_type": lambda _: "a text",
    "string_too_short": lambda c: f"at least {c['min_length']} character",
    "string_too_long": lambda c: f"at most {c['max_length']} characters",
    "string_pattern_mismatch": lambda _: "a text without control characters",
    "greater_than": lambda c: f"a number above {c['gt']:g}",
    "greater_than_equal": lambda c: f"a number of {c['ge']:g} or more",
    "less_than": lambda c: f"a number below {c['lt']:g}",
    "less_than_equal": lambda c: f"a number of {c['le']:g} or less",
    "literal_error": lambda c: f"one of {c['expected']}".replace(" or ", ", ").replace("'", ""),
    "union_tag_invalid": lambda c: f"one of {c['expected_tags']}".replace("'", ""),
    "union_tag_not_found": lambda _: "this field is needed",
    "too_short": lambda c: f"at least {c['min_length']} entries",
    "too_long": lambda c: f"at most {c['max_length']} entries",
    "model_type": lambda _: "an object",
    "model_attributes_type": lambda _: "an object",
    "list_type": lambda _: "a list",
    "tuple_type": lambda _: "a list",
    "json_invalid": lambda _: "a JSON value",
    "value_error": lambda c: str(c["error"]),
}


def _allowed(fault: ErrorDetails) -> str:
    words = _ALLOWED.get(fault["type"])
    return words(fault.get("ctx", {})) if words else fault["msg"]
