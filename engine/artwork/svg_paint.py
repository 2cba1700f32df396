"""What a paint does to a sheet that is black or white: it adds, it erases, or it leaves things as they are."""

import re
from enum import Enum
from xml.etree.ElementTree import Element

import numpy as np

from engine.artwork.notes import Notes
from engine.artwork.svg_style import Cascade, Style
from engine.artwork.svg_tree import SvgTree
from engine.artwork.svg_values import LONGEST_VALUE, colour, share
from engine.artwork.tone import MID_GREY

__all__ = ["Effect", "paint"]

_URL = re.compile(r"url\([^)]*\)")


class Effect(Enum):
    """What is left where a paint was laid."""

    ADDS = "adds"
    ERASES = "erases"
    LEAVES = "leaves"


def _effect_of(grey: float, alpha: float) -> Effect:
    """The effect of a paint, exact on a sheet of black and white.

    Derived: its mix over white and over black, each against mid grey. Dark over both adds, light over both erases; a
    see-through paint that is light over white and dark over black changes nothing.
    """
    if 255.0 * (1.0 - alpha) + grey * alpha < MID_GREY:
        return Effect.ADDS
    return Effect.ERASES if grey * alpha >= MID_GREY else Effect.LEAVES


def paint(
    tree: SvgTree, cascade: Cascade, element: Element, style: Style, which: str, opacity: float, notes: Notes
) -> Effect | None:
    """The effect of an element's `fill` or `stroke`; None where nothing is painted."""
    text = style.get(which, "black" if which == "fill" else "none")
    if text in ("none", "transparent"):
        return None
    alpha, where = opacity * share(style.get(f"{which}-opacity")), tree.where(element)
    found = colour(text, style.get("color", "black"))
    if text.startswith("url("):
        found = _server(tree, cascade, text, style, which, where, notes)
    elif found is None:
        notes.add("colour", f"the {which} colour {text[:30]!r} is not understood: not painted", where)
    if found is None:
        return None
    effect = _effect_of(found[0], alpha * found[1])
    if effect is Effect.LEAVES:
        notes.add("faint", f"a {which} too faint to be cut or to erase", where)
    return effect


def _server(
    tree: SvgTree, cascade: Cascade, text: str, style: Style, which: str, where: str, notes: Notes
) -> tuple[float, float] | None:
    """(grey, alpha) of a paint by reference, None where it cannot be used and states no colour instead."""
    target = tree.target(text)
    kind = tree.name(target) if target is not None else ""
    if target is not None and kind in ("linearGradient", "radialGradient"):
        notes.add("gradient", f"a {which} by a gradient is taken as its mean colour", where)
        return _mean(tree, cascade, target)
    instead = _URL.sub("", text).strip() if len(text) <= LONGEST_VALUE else ""
    notes.add(kind or "reference", f"a {which} by {f'a <{kind}>' if kind else 'something missing'} is not used", where)
    return colour(instead, style.get("color", "black")) if instead else None


def _mean(tree: SvgTree, cascade: Cascade, gradient: Element) -> tuple[float, float] | None:
    """(grey, alpha) averaged over the offsets 0 to 1; a gradient without stops looks where it refers to."""
    seen: set[Element] = set()
    here: Element | None = gradient
    stops: list[Element] = []
    while here is not None and here not in seen and not stops:
        seen.add(here)
        stops = [stop for stop in here if tree.name(stop) == "stop"]
        here = tree.target(tree.href(here)) if tree.href(here) else None
    if not stops:
        return None
    rows: list[tuple[float, float, float]] = []
    for stop in stops:
        style = cascade.style(stop, {})
        grey, alpha = colour(style.get("stop-color", "black"), style.get("color", "black")) or (0.0, 1.0)
        at = max(share(stop.get("offset"), 0.0), rows[-1][0] if rows else 0.0)
        rows.append((at, grey, alpha * share(style.get("stop-opacity"))))
    at_, grey_, alpha_ = np.array([(0.0, *rows[0][1:]), *rows, (1.0, *rows[-1][1:])]).T
    total = float(np.trapezoid(alpha_, at_))
    return (float(np.trapezoid(grey_ * alpha_, at_)) / total if total else 255.0), total
