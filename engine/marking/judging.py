"""What every style tells: that there are no strokes, that they lie on themselves, that it fills no lines."""

import numpy as np

from engine.artwork import Drawing
from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout
from engine.marking.on_art import OnArt
from engine.marking.overlap import overlaps
from engine.marking.strokes import Strokes
from engine.marking.style import Depth, Shows

__all__ = ["DOTTED", "EMPTY", "INSET", "LIGHT", "PITCH", "judge_lines", "judge_strokes"]

# Why nothing is left to cut, and what helps.
EMPTY = ("this artwork holds no line and no area", "choose another threshold, or other art")
INSET = (
    "this artwork is nowhere as wide as twice the inset",
    "a smaller inset, a finer tool, less depth, or larger art",
)
LIGHT = ("this artwork is nowhere dark enough to be cut", "make it darker by its tone, or choose other art")
DOTTED = ("this artwork is smaller than a dot", "a smaller dot, or larger art")
PITCH = ("this artwork lies between the lines", "a narrower pitch, or larger art")
# Why lines are cut along, and what to take for them.
FILLS = ("this style fills areas alone", "take the style outline or centreline for art that is lines")
SIDED = ("only areas have an inside and an outside", "take the side on the edge for art that is lines")


def judge_strokes(
    strokes: Strokes, layout: Layout, *, reach: Strokes | None = None, why: tuple[str, str] = EMPTY
) -> tuple[Finding, ...]:
    """`no-strokes`, an error, or `overlaps-itself`.

    reach : what shows how far the art reaches, where the strokes go round the blank on purpose. why : that there are
    none, and what helps.
    """
    if len(strokes):
        return overlaps(strokes if reach is None else reach, layout)
    return (
        Finding(
            severity=Severity.ERROR,
            code="no-strokes",
            message=f"nothing is left to cut: {why[0]}",
            advice=why[1],
            where=Where(),
        ),
    )


def judge_lines(drawing: Drawing, layout: Layout, shows: Shows, *, name: str, fill: str) -> tuple[Finding, ...]:
    """`lines-cut-along`, a note, where a style that fills areas, or keeps to one side of their edge, is given lines:
    closed ones, of which a person may think that they are areas, and open ones. Of a style that fills a line counts
    that has most of its points beside the areas; one of which an area has the same edge does not. name : of the art.
    fill : how its closed lines become areas.
    """
    lines, sided = drawing.lines, not shows.fills and shows.shift_mm != 0
    if not len(lines) or not (shows.fills or sided) or shows.depth is Depth.MIDDLE:
        return ()
    off = np.ones(len(lines), np.bool_)
    if not sided:
        off = np.bincount(lines.owner, ~OnArt.of(drawing).at(lines.points), len(lines)) > 0.5 * lines.sizes
    first, last = lines.points[lines.offsets[:-1]], lines.points[lines.offsets[1:] - 1]
    shut = (first == last).all(axis=1) & off
    closed, others = int(shut.sum()), int((off & ~shut).sum())
    if not closed and not others:
        return ()
    unfilled = ("", "") if sided else ("that is not filled", "that are not filled")
    counts = [_counted(closed, "closed line", *unfilled)] if closed else []
    counts += [_counted(others, "open line")] if others else []
    message = f"{' and '.join(counts)} of {name} {'is' if closed + others == 1 else 'are'} cut along at full depth"
    why, instead = FILLS if not sided else SIDED
    x, theta = layout.wrap(first[(shut if closed else off)][:1])
    return (
        Finding(
            severity=Severity.NOTE,
            code="lines-cut-along",
            message=f"{message}: {why}",
            advice=f"{fill}, or {instead}" if closed else instead,
            where=Where.on_skin(x[0], theta[0]),
        ),
    )


def _counted(count: int, what: str, one: str = "", more: str = "") -> str:
    return f"{count} {what}{'' if count == 1 else 's'} {one if count == 1 else more}".rstrip()
