"""The small grammars inside SVG attributes: numbers, lengths, transforms, view boxes, colours.

Texts longer than a grammar can need are not scanned, so that no text costs more than its length.
"""

import math
import re

import tinycss2.color4
from fontTools.misc.transform import Identity, Transform

from engine.artwork.tone import LUMA
from engine.kernel.errors import ArtworkError
from engine.kernel.units import INCH_MM

__all__ = ["NUMBER", "PX_MM", "colour", "length", "numbers", "share", "transform", "view", "view_box"]

PX_MM = INCH_MM / 96  # CSS Values 4, section 6.2: 96 px to the inch
NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_NUMBERS = re.compile(NUMBER)
_LENGTH = re.compile(rf"\s*({NUMBER})\s*([a-zA-Z%]*)\s*")
_FUNCTION = re.compile(r"[\s,]*([A-Za-z]+)\s*\(([^()]*)\)")
_ARGUMENT = re.compile(rf"({NUMBER})([a-zA-Z%]*)")
# em, rem and ex from the initial font size of 16 px
_PX = {
    "": 1.0,
    "px": 1.0,
    "pt": 4 / 3,
    "pc": 16.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / INCH_MM,
    "q": 96 / 101.6,
    "em": 16.0,
    "rem": 16.0,
    "ex": 8.0,
}
_TURN = {"deg": 1.0, "rad": 180 / math.pi, "grad": 0.9, "turn": 360.0}  # to degrees
LONGEST_VALUE = 200  # characters: a longer one is no number and no colour, and is not looked through
LONGEST_TRANSFORM = 10_000  # characters of a list, of transforms or dashes: some hundreds of entries


def length(text: str | None, reference: float, default: float = 0.0) -> float:
    """A length in px; per cent of `reference`; `default` where there is none or it cannot be read."""
    found = _LENGTH.fullmatch(text) if text and len(text) <= LONGEST_VALUE else None
    if not found:
        return default
    unit = found[2].lower()
    factor = reference / 100 if unit == "%" else _PX.get(unit)
    return default if factor is None else float(found[1]) * factor


def numbers(text: str | None) -> list[float]:
    """Every number in a text, in order."""
    return [float(found) for found in _NUMBERS.findall(text or "")]


def share(text: str | None, default: float = 1.0) -> float:
    """An opacity or an offset, 0 to 1; per cent understood."""
    value = length(text, 1.0, default)
    return default if math.isnan(value) else min(1.0, max(0.0, value))


def view_box(text: str | None) -> tuple[float, float, float, float] | None:
    """(x, y, width, height) of a viewBox, or None where there is none that can be used."""
    box = numbers(text) if text and len(text) <= LONGEST_VALUE else []
    if len(box) != 4 or not all(map(math.isfinite, box)) or not (box[2] > 0 and box[3] > 0):
        return None
    return box[0], box[1], box[2], box[3]


def view(
    box: tuple[float, float, float, float] | None, fit: str | None, x: float, y: float, w: float, h: float
) -> Transform:
    """The affine of a viewBox and preserveAspectRatio onto the viewport. Source: SVG 2, section 8.2."""
    if box is None:
        return Identity.translate(x, y)
    words = [word for word in (fit or "").split() if word != "defer"] or ["xMidYMid"]
    align = words[0] if re.fullmatch(r"none|x(Min|Mid|Max)Y(Min|Mid|Max)", words[0]) else "xMidYMid"
    sx, sy = w / box[2], h / box[3]
    if align != "none":
        sx = sy = max(sx, sy) if "slice" in words else min(sx, sy)
        at = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
        x += (w - box[2] * sx) * at[align[1:4]]
        y += (h - box[3] * sy) * at[align[5:8]]
    return Identity.translate(x, y).scale(sx, sy).translate(-box[0], -box[1])


def transform(text: str | None, where: str) -> Transform:
    """A transform list as one affine. Source: SVG 2, section 8.5; CSS Transforms 1, section 8.

    Raises
    ------
    ArtworkError where it cannot be read: art in a wrong place is worse than none.
    """
    out, at = Identity, 0
    text = (text or "").strip()
    if text in ("", "none"):
        return out
    if len(text) > LONGEST_TRANSFORM:
        raise ArtworkError(f"the transform has over {LONGEST_TRANSFORM:,} characters", where=where)
    for found in _FUNCTION.finditer(text):
        if found.start() != at:
            break
        at = found.end()
        try:
            out = out.transform(_step(found[1], _arguments(found[2])))
        except (IndexError, KeyError, ValueError, OverflowError) as exc:
            raise ArtworkError(f"the transform {found[1]}({found[2][:40]}) is not understood", where=where) from exc
    if text[at:].strip(" ,"):
        raise ArtworkError(f"the transform {text[at : at + 40]!r} is not understood", where=where)
    if not all(map(math.isfinite, out)):
        raise ArtworkError("the transform is not finite", where=where)
    return out


def _arguments(text: str) -> list[float]:
    """Numbers in px or degrees; KeyError on a unit that is neither."""
    return [
        float(number) * (_TURN | _PX)[unit.lower()]  # the two tables share no unit
        for number, unit in _ARGUMENT.findall(text)
    ]


def _step(kind: str, v: list[float]) -> Transform:
    if kind == "matrix":
        return Transform(v[0], v[1], v[2], v[3], v[4], v[5])
    if kind in ("translate", "translateX"):
        return Identity.translate(v[0], v[1] if len(v) > 1 else 0)
    if kind == "translateY":
        return Identity.translate(0, v[0])
    if kind == "scale":
        return Identity.scale(v[0], v[1] if len(v) > 1 else v[0])
    if kind == "scaleX":
        return Identity.scale(v[0], 1)
    if kind == "scaleY":
        return Identity.scale(1, v[0])
    if kind == "rotate":
        cx, cy = (v[1], v[2]) if len(v) > 2 else (0.0, 0.0)
        return Identity.translate(cx, cy).rotate(math.radians(v[0])).translate(-cx, -cy)
    if kind in ("skewX", "skewY"):
        tangent = math.tan(math.radians(v[0]))
        return Transform(1, 0, tangent, 1, 0, 0) if kind == "skewX" else Transform(1, tangent, 0, 1, 0, 0)
    raise KeyError(kind)


def colour(text: str, current: str = "black") -> tuple[float, float] | None:
    """(luma 0 to 255, alpha 0 to 1) of a CSS colour, None where it is none; the weights are those of rasters."""
    if text.lower() == "currentcolor":
        text = current
    if len(text) > LONGEST_VALUE:
        return None
    try:
        found = tinycss2.color4.parse_color(text)
        if found is None or isinstance(found, str):
            return None
        channels = [min(1.0, max(0.0, float(c or 0))) for c in found.to("srgb").coordinates]
    except (ValueError, NotImplementedError):  # `color()` of nothing, and spaces that the library cannot turn to sRGB
        return None
    return 255 * sum(w * c for w, c in zip(LUMA, channels, strict=True)), float(found.alpha)
