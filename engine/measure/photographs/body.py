"""The piece in a small picture: its largest filled part that differs from the background, and what is wrong with it."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity
from engine.kernel.robust import robust_sigma
from engine.measure.photographs.background import Background, distance, fit_background
from engine.measure.photographs.lab import Light
from engine.measure.photographs.mending import Mend, painted

__all__ = ["Body", "find_body", "otsu"]

_LEAST_CONTRAST = 7.0
"""Delta E between piece and background; a person sees about 1 side by side (common practice, no source)."""
_SMALLEST, _LARGEST = 0.004, 0.93
"""Shares of the picture between which a piece is measured."""
_ANOTHER = 0.04
"""A second body is told from this share of the largest on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """What stands before the background.

    distance : (h, w) Delta E from the background. mask : (h, w) the piece with its holes filled, all False where there
    is none. threshold used and Otsu's, Delta E.
    """

    distance: Floats
    mask: Bools
    threshold: float
    otsu: float
    findings: tuple[Finding, ...]


def otsu(values: Floats, bins: int = 256) -> float:
    """Threshold that parts values into two classes with the greatest variance between them.

    Source: N. Otsu, IEEE Trans. Systems, Man and Cybernetics 9 (1979) 62-66.
    """
    count, ends = np.histogram(values, bins)
    middle = (ends[1:] + ends[:-1]) / 2
    below = np.cumsum(count) / count.sum()
    mean = np.cumsum(count * middle) / count.sum()
    apart = (mean[-1] * below - mean) ** 2 / np.maximum(below * (1.0 - below), 1e-12)
    return float(ends[int(np.argmax(apart[:-1])) + 1])


def find_body(colours: Light, k: int, *, threshold: float | None, axis_px: Floats | None, mend: Mend) -> Body:
    """The largest filled body in (h, w, 3) L*a*b* whose pixels are k picture pixels wide."""
    background = fit_background(colours)
    far = ndimage.gaussian_filter(distance(colours, background), 1.0)
    automatic = otsu(np.minimum(far, np.quantile(far, 0.999)))
    limit = automatic if threshold is None else float(threshold)
    inside = painted(far > limit, mend, k)
    findings = _uneven(background)
    mask = np.zeros(far.shape, bool)
    if not mend.include and not _stands_out(far, inside):
        advice = "use a background of another colour, more light, or set the threshold by hand"
        findings.append(_error("no-body", "nothing stands out from the background", advice))
    else:
        mask, told = _largest(inside)
        findings += told
        findings += _leaves_picture(mask, k, axis_px)
    return Body(distance=far, mask=mask, threshold=limit, otsu=automatic, findings=tuple(findings))


def _error(code: str, message: str, advice: str) -> Finding:
    return Finding(severity=Severity.ERROR, code=code, message=message, advice=advice)


def _uneven(background: Background) -> list[Finding]:
    if background.share >= 0.5 and background.spread <= 8.0:
        return []
    told = f"the background at the border is not plain ({100 * background.share:.0f} % of it fits a smooth field, "
    told += f"spread {background.spread:.1f} Delta E)"
    advice = "use one plain sheet that fills the picture"
    return [Finding(severity=Severity.WARNING, code="background-uneven", message=told, advice=advice)]


def _stands_out(far: Floats, inside: Bools) -> bool:
    if not inside.any() or inside.all():
        return False
    level = float(np.median(far[~inside]))
    noise = float(robust_sigma(far[~inside] - level))
    return float(np.median(far[inside])) - level >= max(_LEAST_CONTRAST, 5.0 * noise)


def _largest(inside: Bools) -> tuple[Bools, list[Finding]]:
    nothing = np.zeros(inside.shape, bool)
    labels, _ = ndimage.label(ndimage.binary_opening(inside))
    area = np.bincount(labels.ravel())
    area[0] = 0
    big = int(area.argmax())
    share = area[big] / inside.size
    if share < _SMALLEST:
        told = f"the largest body covers {100 * share:.2f} % of the picture"
        return nothing, [_error("no-body", told, "go nearer, or set the threshold by hand")]
    if share > _LARGEST:
        return nothing, [_error("no-background", "the body fills the picture", "leave background on both sides")]
    others = int((area > _ANOTHER * area[big]).sum()) - 1
    findings = []
    if others > 0:
        told = f"{others + 1} bodies; the largest is taken"
        advice = "clear the background, or mark the others as background"
        findings.append(Finding(severity=Severity.WARNING, code="several-bodies", message=told, advice=advice))
    return ndimage.binary_fill_holes(labels == big), findings


def _leaves_picture(mask: Bools, k: int, axis_px: Floats | None) -> list[Finding]:
    """Sides on which the body leaves the picture; beyond the ends of the axis, where it is held, it may."""
    h, w = mask.shape
    sides = []
    lines = {"top": (0, None), "bottom": (h, None), "left": (None, 0), "right": (None, w)}
    for name, (row, column) in lines.items():
        line = mask[min(row, h - 1)] if row is not None else mask[:, min(column or 0, w - 1)]
        at = (np.flatnonzero(line) + 0.5) * k
        level = np.full(len(at), float((row if row is not None else column or 0) * k))
        places = np.stack([at, level] if row is not None else [level, at], axis=1)
        if axis_px is not None:
            along = (axis_px[1] - axis_px[0]) / ((axis_px[1] - axis_px[0]) ** 2).sum()
            share = (places - axis_px[0]) @ along
            places = places[(share >= 0.0) & (share <= 1.0)]
        if len(places):
            sides.append(name)
    if not sides:
        return []
    told = f"the body leaves the picture at the {', '.join(sides)}"
    return [_error("touches-border", told, "go back, or turn the camera")]
