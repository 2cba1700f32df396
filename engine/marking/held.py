"""Where the depth allowed does not open as much of the skin as a tone asks: how dark it can be, and what would help."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout
from engine.marking.sampling import Rows

__all__ = ["Lack", "judge_held", "lacking"]

HELD_SHARE = 0.005  # of darkness: less is no loss worth words
LOST_SHARE = 0.04  # of darkness: more is seen
TOLD = 9  # digits of a loss that are compared, so that of equal ones the first is told


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lack:
    """What of a tone cannot be opened along some rows.

    lost : of darkness, at most. worst : the same where it is told, and there uv_mm (1, 2), darkness asked, width of the
    strip and of the widest groove; of the first sample where next to nothing is lost. reached : the least darkness
    reached where some is lost; inf where none is. darkest, strip_mm : the greatest darkness asked, the widest strip.
    """

    lost: float
    worst: float
    uv_mm: Floats
    asked: float
    cell_mm: float
    widest_mm: float
    reached: float
    darkest: float
    strip_mm: float


def lacking(rows: Rows, asked: Floats, widest_mm: Floats) -> list[Lack]:
    """Of rows with (n,) darkness asked and widest grooves; none of rows without samples."""
    if not len(asked):
        return []
    reached = np.minimum(widest_mm / rows.cell_mm, 1.0)
    lost = asked - reached
    most = float(lost.max())
    k = int(np.argmax(np.round(lost, TOLD))) if most > HELD_SHARE else 0
    return [
        Lack(
            lost=most,
            worst=float(lost[k]),
            uv_mm=rows.uv_mm[k : k + 1],
            asked=float(asked[k]),
            cell_mm=float(rows.cell_mm[k]),
            widest_mm=float(widest_mm[k]),
            reached=float(reached[lost > HELD_SHARE].min()) if most > HELD_SHARE else inf,
            darkest=float(asked.max()),
            strip_mm=float(rows.cell_mm.max()),
        )
    ]


def judge_held(lacks: Sequence[Lack], layout: Layout, *, depth_mm: float, pitch_mm: float) -> tuple[Finding, ...]:
    """`tone-held` where more than HELD_SHARE is lost; a warning where it is seen."""
    if max((lack.lost for lack in lacks), default=0.0) <= HELD_SHARE:
        return ()
    at = max(lacks, key=lambda lack: float(np.round(lack.worst, TOLD)))
    x, theta = layout.wrap(at.uv_mm)
    pitch = max(lack.strip_mm for lack in lacks) * at.widest_mm / at.cell_mm / at.asked
    reached, darkest = min(lack.reached for lack in lacks), max(lack.darkest for lack in lacks)
    return (
        Finding(
            severity=Severity.WARNING if at.worst > LOST_SHARE else Severity.NOTE,
            code="tone-held",
            message=f"{depth_mm:g} mm deep the tool opens {100.0 * reached:.0f} % of the "
            f"skin at a pitch of {pitch_mm:g} mm; the art is up to {100.0 * darkest:.0f} % dark",
            advice=f"a pitch of {pitch:.3g} mm reaches it, or more depth, or lighter art",
            where=Where.on_skin(x[0], theta[0]),
        ),
    )
