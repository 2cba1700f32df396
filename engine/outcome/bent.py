"""Which of the art's straight lines will look bent on the piece, by how much, and what shows them straight."""

import numpy as np

from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Bows, Projection, bows, sight
from engine.outcome.preview import Placed

__all__ = ["looks_bent"]

TOLD = 0.01  # of a line's length: a bow that an eye finds beside a straight edge (common practice, no source)
PLAIN = 0.05  # a bow that is seen at once
LEAST_MM = 0.15  # less is lost in the width of a line


def looks_bent(placed: Placed) -> list[Finding]:
    """`looks-bent`, one for a piece of art, naming the line that bows most for its length: a note, and a warning where
    the bow is more than PLAIN of it.
    """
    item, layout = placed.item, placed.layout
    view = sight(layout.skin, item.placement)
    found = bows(placed.drawing, layout, view)
    bent = (found.share > TOLD) & (found.bow_mm > LEAST_MM)
    if not bent.any():
        return []
    worst = int(np.where(bent, np.round(found.share, 9), -1.0).argmax())
    severity = Severity.WARNING if found.share[worst] > PLAIN else Severity.NOTE
    seen_whole = view is not None and bool(view.holds(placed.drawing.places).all())
    return [
        Finding(
            severity=severity,
            code="looks-bent",
            message=_told(found, worst, int(bent.sum())),
            where=Where.on_skin(
                found.x_mm[worst], found.theta_rad[worst], pointer=f"/artwork/{item.index}/placement/projection"
            ),
            advice=_advice(item.placement.projection, seen_whole=seen_whole),
        )
    ]


def _told(found: Bows, worst: int, count: int) -> str:
    length, bow, share = found.length_mm[worst], found.bow_mm[worst], found.share[worst]
    looked = "when the art's centre is looked at" if found.centred[worst] else "when it is looked at straight on"
    lines = f"{count} straight lines of the art will look bent: the worst is"
    if count == 1:
        lines = "a straight line of the art will look bent: it is"
    return f"{lines} {length:.1f} mm long and bows {bow:.2f} mm ({share:.1%}), {looked}"


def _advice(projection: Projection, *, seen_whole: bool) -> str:
    if projection is Projection.FROM_VIEW:
        return "only to the eye that the placement names is it straight"
    if seen_whole:
        return "choose the projection from-view: what is straight in the art then looks straight from there"
    return (
        "no eye sees all of the art at once: make it smaller for the projection from-view, or leave the line as it is"
    )
