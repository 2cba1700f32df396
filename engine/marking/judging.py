"""What every style tells of its strokes: that there are none, or that they lie on themselves."""

from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout
from engine.marking.overlap import overlaps
from engine.marking.strokes import Strokes

__all__ = ["judge_strokes"]


def judge_strokes(strokes: Strokes, layout: Layout, *, reach: Strokes | None = None) -> tuple[Finding, ...]:
    """`no-strokes`, an error, or `overlaps-itself`.

    reach : what shows how far the art reaches, where the strokes go round the blank on purpose.
    """
    if len(strokes):
        return overlaps(strokes if reach is None else reach, layout)
    return (
        Finding(
            severity=Severity.ERROR,
            code="no-strokes",
            message="of this artwork nothing is left to cut",
            advice="choose another threshold, a smaller inset, a finer tool, or other art",
            where=Where(),
        ),
    )
