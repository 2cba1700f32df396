"""What every style tells of its strokes: that there are none, or that they lie on themselves."""

from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout
from engine.marking.overlap import overlaps
from engine.marking.strokes import Strokes

__all__ = ["DOTTED", "EMPTY", "INSET", "LIGHT", "PITCH", "judge_strokes"]

# Why nothing is left to cut, and what helps.
EMPTY = ("this artwork holds no line and no area", "choose another threshold, or other art")
INSET = (
    "this artwork is nowhere as wide as twice the inset",
    "a smaller inset, a finer tool, less depth, or larger art",
)
LIGHT = ("this artwork is nowhere dark enough to be cut", "make it darker by its tone, or choose other art")
DOTTED = ("this artwork is smaller than a dot", "a smaller dot, or larger art")
PITCH = ("this artwork lies between the lines", "a narrower pitch, or larger art")


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
