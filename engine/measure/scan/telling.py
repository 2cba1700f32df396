"""What is told of a scan: findings with their place and size, the largest first, the rest counted."""

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.measure.scan.holes import regions
from engine.measure.scan.polar import Rays

__all__ = ["ends_told", "holes_told", "twice_told", "undercuts_told", "wall_told"]

MOST_TOLD = 6  # places of one kind; the last one speaks for the rest
NOTICED_MM = 0.05  # folds and double skins below this are noise
WALL_SHARE = 0.05  # of the rays have to meet an inner skin for it to be spoken of


def ends_told(x_mm: Floats, first: int, last: int) -> list[Finding]:
    """Notes where the skin begins or ends short of the mesh."""
    told = []
    for kept, end in ((x_mm[first], x_mm[0]), (x_mm[last], x_mm[-1])):
        if kept != end:
            told.append(
                _told(
                    Severity.NOTE,
                    "end-cut-back",
                    f"{abs(kept - end):.2f} mm at the end near x {end:.2f} close to the axis, face along it or are "
                    f"open; the skin ends at x {kept:.2f}",
                    "engrave further in, or measure that end by callipers",
                    Where(x_mm=float(kept)),
                )
            )
    return told


def holes_told(rays: Rays, met: Bools, sigma_mm: Floats) -> list[Finding]:
    """Warnings for places that no ray met."""
    step = float(rays.x_mm[1] - rays.x_mm[0])
    arc = float(np.median(rays.radius_mm[met])) * TURN_RAD / met.shape[1]
    told = []
    parts = regions(~met)
    for row, column in parts[:MOST_TOLD]:
        long, wide = (row.max() - row.min() + 1) * step, len(np.unique(column)) * arc
        told.append(
            _told(
                Severity.WARNING,
                "scan-hole",
                f"a hole of {long:.2g} mm along by {wide:.2g} mm around is filled smoothly, "
                f"sure to {sigma_mm[row, column].max():.2g} mm at its middle",
                "scan that side again, or keep the art off it",
                _middle(rays.x_mm, row, column, met.shape[1]),
            )
        )
    return _counted(told, len(parts), "holes")


def undercuts_told(rays: Rays) -> list[Finding]:
    """Warnings for places where the skin lies above itself."""
    hidden = rays.hidden_mm
    told = []
    parts = regions(hidden > NOTICED_MM)
    for row, column in parts[:MOST_TOLD]:
        deepest = int(np.argmax(hidden[row, column]))
        told.append(
            _told(
                Severity.WARNING,
                "scan-undercut",
                f"the skin hangs over itself: up to {hidden[row, column].max():.2g} mm lie hidden below "
                f"{len(row)} places; the outer skin is taken",
                "keep the art off its rim, or turn the axis",
                _middle(rays.x_mm, row[[deepest]], column[[deepest]], hidden.shape[1]),
            )
        )
    return _counted(told, len(parts), "undercuts")


def twice_told(rays: Rays, twice_mm: Floats) -> list[Finding]:
    """A warning of a skin that is there twice. twice_mm : (m, n) how far apart, 0 where it is not."""
    apart = twice_mm > NOTICED_MM
    if not apart.any():
        return []
    row, column = (int(v) for v in np.unravel_index(np.argmax(twice_mm), twice_mm.shape))
    return [
        _told(
            Severity.WARNING,
            "skin-twice",
            f"{100 * apart.mean():.2g} % of the skin is there twice, up to {twice_mm.max():.2f} mm apart; "
            "the outer one is taken, and how far they differ is in the error",
            "bring the passes of the scanner to one another and make one mesh of them, or scan again in one",
            _middle(rays.x_mm, np.array([row]), np.array([column]), twice_mm.shape[1]),
        )
    ]


def wall_told(rays: Rays, twice_mm: Floats) -> list[Finding]:
    """A note of an inner skin: the wall of a vessel."""
    wall = np.where(twice_mm > 0, 0.0, rays.wall_mm)
    inner = wall > NOTICED_MM
    if inner.mean() < WALL_SHARE:
        return []
    row, column = (int(v) for v in np.unravel_index(np.argmin(np.where(inner, wall, np.inf)), wall.shape))
    return [
        _told(
            Severity.NOTE,
            "inner-skin",
            f"the scan has an inner skin, at the least {wall[row, column]:.2f} mm below the outer one, which is taken",
            "give the wall of a vessel with the blank; mend the mesh if the piece is solid",
            _middle(rays.x_mm, np.array([row]), np.array([column]), wall.shape[1]),
        )
    ]


def _counted(told: list[Finding], count: int, name: str) -> list[Finding]:
    if count > len(told):
        told.append(
            _told(Severity.NOTE, f"more-{name}", f"{count - len(told)} smaller {name} are not listed", "", Where())
        )
    return told


def _middle(x_mm: Floats, row: np.ndarray, column: np.ndarray, count: int) -> Where:
    turn = np.exp(2j * np.pi * column / count).mean()
    angle = float(np.degrees(np.angle(turn))) % 360.0 if abs(turn) > 1e-9 else None
    return Where(x_mm=round(float(x_mm[row].mean()), 3), angle_deg=None if angle is None else round(angle, 3))


def _told(severity: Severity, code: str, message: str, advice: str, where: Where) -> Finding:
    return Finding(severity=severity, code=code, message=message, advice=advice, where=where)
