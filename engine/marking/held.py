"""Where the depth allowed does not open as much of the skin as a tone asks: how dark it can be, and what would help."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout
from engine.marking.sampling import Rows

__all__ = ["Held", "held_along", "judge_held"]

HELD_SHARE = 0.005  # of darkness: less is no loss worth words
LOST_SHARE = 0.04  # of darkness: more is seen
TOLD = 9  # digits of a loss that are compared, so that of equal ones the first is told


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lack:
    """What of a tone cannot be opened. lost : of darkness, at most; uv_mm : (1, 2) where; share : of the width asked
    there that the widest groove has. reached : the least darkness reached where some is lost.
    """

    lost: float
    uv_mm: Floats
    share: float
    reached: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """The greatest darkness asked along some rows, the widest strip that one answers for, and what is lost of a tone
    there, None where no more than HELD_SHARE is.
    """

    darkest: float
    strip_mm: float
    lack: Lack | None


def held_along(rows: Rows, asked: Floats, widest_mm: Floats) -> list[Held]:
    """Of rows with (n,) darkness asked and widest grooves; none of rows without samples."""
    if not len(asked):
        return []
    reached = np.minimum(widest_mm / rows.cell_mm, 1.0)
    lost = asked - reached
    lack = None
    if lost.max() > HELD_SHARE:
        k = int(np.argmax(np.round(lost, TOLD)))
        lack = Lack(
            lost=float(lost[k]),
            uv_mm=rows.uv_mm[k : k + 1],
            share=float(widest_mm[k] / rows.cell_mm[k] / asked[k]),
            reached=float(reached[lost > HELD_SHARE].min()),
        )
    return [Held(darkest=float(asked.max()), strip_mm=float(rows.cell_mm.max()), lack=lack)]


def judge_held(parts: Sequence[Held], layout: Layout, *, depth_mm: float, pitch_mm: float) -> tuple[Finding, ...]:
    """`tone-held` where more than HELD_SHARE is lost; a warning where it is seen."""
    lacks = [part.lack for part in parts if part.lack is not None]
    if not lacks:
        return ()
    worst = max(lacks, key=lambda lack: float(np.round(lack.lost, TOLD)))
    x, theta = layout.wrap(worst.uv_mm)
    pitch = worst.share * max(part.strip_mm for part in parts)
    reached, darkest = min(lack.reached for lack in lacks), max(part.darkest for part in parts)
    return (
        Finding(
            severity=Severity.WARNING if worst.lost > LOST_SHARE else Severity.NOTE,
            code="tone-held",
            message=f"{depth_mm:g} mm deep the tool opens {100.0 * reached:.0f} % of the "
            f"skin at a pitch of {pitch_mm:g} mm; the art is up to {100.0 * darkest:.0f} % dark",
            advice=f"a pitch of {pitch:.3g} mm reaches it, or more depth, or lighter art",
            where=Where.on_skin(x[0], theta[0]),
        ),
    )
