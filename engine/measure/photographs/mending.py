"""What a person says about an outline: regions that belong to the piece or do not, and places it passes through."""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, frozen_floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity
from engine.kernel.scan import cells_inside

__all__ = ["NO_MEND", "Mend", "painted", "pulled"]

_PULL = 0.02
"""How far a pulled stretch reaches either side, in parts of the long side; farther where it is pulled far."""
_NEAR = 0.05
"""A place to move is at most this far from the outline, in parts of the picture's long side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mend:
    """include, exclude: polygons (k, 2) px taken as the piece and as background, exclude last. moved: pairs (2, 2) px:
    the stretch of the outline nearest to the first place is pulled through the second.

    Raises BlankError for a polygon of fewer than three corners, or numbers that are not finite.
    """

    include: tuple[Floats, ...] = ()
    exclude: tuple[Floats, ...] = ()
    moved: tuple[Floats, ...] = ()

    def __post_init__(self) -> None:
        for name, least in (("include", 3), ("exclude", 3), ("moved", 2)):
            kept = []
            for i, given in enumerate(getattr(self, name)):
                where = f"/mend/{name}/{i}"
                try:
                    places = frozen_floats(given)
                except (TypeError, ValueError) as exc:
                    raise BlankError("not a list of places", where=where, hint="give x, y pairs in pixels") from exc
                if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
                    raise BlankError("not a list of places", where=where, hint="give x, y pairs in pixels")
                if len(places) < least or (name == "moved" and len(places) != 2):
                    hint = "give the place to move and where to" if name == "moved" else "mark at least three corners"
                    raise BlankError(f"{len(places)} places do not make it", where=where, hint=hint)
                kept.append(places)
            object.__setattr__(self, name, tuple(kept))


NO_MEND = Mend()


def painted(inside: Bools, mend: Mend, k: int) -> Bools:
    """`inside` (h, w), pixels of k picture pixels each, with the person's polygons laid over it, even-odd."""
    if not mend.include and not mend.exclude:
        return inside
    inside = inside.copy()
    for polygons, value in ((mend.include, True), (mend.exclude, False)):
        for polygon in polygons:
            corners = polygon / k - 0.5
            inside[cells_inside(corners, np.roll(corners, -1, axis=0), inside.shape)] = value
    return inside


def pulled(points: Floats, ok: Bools, mend: Mend, size_px: tuple[int, int]) -> tuple[Floats, Bools, list[Finding]]:
    """The closed outline (n, 2) pulled through the places the person gave, and measured well there by their word.

    Where two pulls overlap the outline still passes through both places. A place that is not near the outline moves
    nothing and is told.
    """
    findings: list[Finding] = []
    pins: list[int] = []
    pulls: list[Floats] = []
    reach: list[float] = []
    long_side = max(size_px)
    for place, goal in mend.moved:
        far = np.hypot(*(points - place).T)
        nearest = int(far.argmin())
        if far[nearest] > _NEAR * long_side:
            told = f"the place ({place[0]:.0f}, {place[1]:.0f}) lies {far[nearest]:.0f} px from the outline: not moved"
            advice = "take hold of the outline itself, or mark a region as the piece or as background"
            findings.append(Finding(severity=Severity.WARNING, code="mend-far", message=told, advice=advice))
        elif nearest in pins:
            pulls[pins.index(nearest)] = goal - points[nearest]
        else:
            pins.append(nearest)
            pulls.append(goal - points[nearest])
            reach.append(max(_PULL * long_side, 2.0 * float(np.hypot(*pulls[-1]))))
    if not pins:
        return points, ok, findings
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.vstack([points, points[:1]]), axis=0).T))])
    apart = np.abs(along[:-1, None] - along[pins])
    apart = np.minimum(apart, along[-1] - apart)
    share = np.where(apart < reach, np.cos(np.pi / 2 * apart / np.array(reach)) ** 2, 0.0)
    parts = np.linalg.lstsq(share[pins], np.array(pulls), rcond=None)[0]
    return points + share @ parts, ok | (share > 0.0).any(axis=1), findings
