"""The outline of a piece in one photograph, to a fraction of a pixel, and what is wrong with the photograph.

Takes a picture as it came from the camera, in front of a plain background. A bad picture is never an error here:
findings say what is wrong with it and what to do, and there are no points where there is no body.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from engine.kernel.arrays import Bools, Bytes8, Floats, frozen_floats, locked
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity
from engine.measure.photographs.body import Body, find_body
from engine.measure.photographs.crossing import STEP_PX, Crossing, half_light, steepest
from engine.measure.photographs.lab import lab, reduced
from engine.measure.photographs.mending import NO_MEND, Mend, pulled
from engine.measure.photographs.outline import corners, evenly, rough_outline, round_smooth

__all__ = ["Edge", "find_edge"]

_SMALL_PX = 1000
"""Long side of the small picture in which the body is found."""
_DISTANCE_STEP = 0.5
"""Delta E of one count of `Edge.distance`: 255 counts reach beyond any two colours that printed paper and skin have."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edge:
    """The found edge of one photograph.

    points_px : (n, 2) closed outline in order, x right and y down, pixel corners at integers. ok : (n,) measured well.
    blur_px : (n,) standard deviation of the edge's blur. size_px : (w, h). threshold used and the automatic one
    (`otsu`), Delta E. distance : (h // mask_scale, w // mask_scale) uint8 counts of `distance_step` Delta E from the
    background, for showing a threshold live.
    """

    points_px: Floats
    ok: Bools
    blur_px: Floats
    size_px: tuple[int, int]
    threshold: float
    otsu: float
    distance: Bytes8
    distance_step: float
    mask_scale: int
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        for name in ("points_px", "blur_px"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "ok", locked(np.asarray(self.ok, np.bool_)))
        object.__setattr__(self, "distance", locked(self.distance))
        if not len(self.points_px) == len(self.ok) == len(self.blur_px):
            raise ValueError("one ok and one blur for each point")


def find_edge(
    picture: Bytes8,
    *,
    threshold: float | None = None,
    axis_px: tuple[tuple[float, float], tuple[float, float]] | Floats | None = None,
    mend: Mend = NO_MEND,
) -> Edge:
    """The outline of the largest filled body of (h, w, 3) uint8 sRGB on a plain background.

    Parameters
    ----------
    threshold : Delta E from the background above which a pixel belongs to the body; None = chosen by the picture.
    axis_px : picture points of the axis' two ends. With them a body that leaves the picture beyond them (what holds
        it) is no fault.
    mend : what a person said about this photograph's outline.

    Raises
    ------
    BlankError : the picture is no (h, w, 3) uint8 of at least 64 px either way, or a number is not finite.
    """
    axis = _checked(picture, threshold, axis_px)
    h, w, _ = picture.shape
    k = max(1, round(max(h, w) / _SMALL_PX))
    body = find_body(lab(reduced(picture, k)), k, threshold=threshold, axis_px=axis, mend=mend)
    if not body.mask.any():
        return _edge(body, k, (w, h), np.zeros((0, 2)), np.zeros(0, bool), np.zeros(0), ())
    rough = round_smooth(evenly(rough_outline(body, k), STEP_PX), max(1.0, 0.7 * k))
    found = half_light(picture, steepest(picture, rough, max(8, 4 * k)))
    ok = _well_measured(found, k, (w, h))
    findings = _judged(found, ok)
    points, ok, told = pulled(found.points, ok, mend, (w, h))
    return _edge(body, k, (w, h), points, ok, found.blur_px, (*findings, *told))


def _edge(
    body: Body,
    k: int,
    size_px: tuple[int, int],
    points: Floats,
    ok: Bools,
    blur_px: Floats,
    findings: tuple[Finding, ...],
) -> Edge:
    return Edge(
        points_px=points,
        ok=ok,
        blur_px=blur_px,
        size_px=size_px,
        threshold=body.threshold,
        otsu=body.otsu,
        distance=np.minimum(np.rint(body.distance / _DISTANCE_STEP), 255).astype(np.uint8),
        distance_step=_DISTANCE_STEP,
        mask_scale=k,
        findings=(*body.findings, *findings),
    )


def _checked(
    picture: Bytes8,
    threshold: float | None,
    axis_px: tuple[tuple[float, float], tuple[float, float]] | Floats | None,
) -> Floats | None:
    if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8 or min(picture.shape[:2]) < 64:
        raise BlankError("not a photograph of at least 64 x 64 pixels in colour", hint="take a larger photograph")
    if threshold is not None and not 0.0 < threshold < 400.0:
        raise BlankError("the threshold is no colour distance", where="/threshold", hint="choose between 1 and 100")
    if axis_px is None:
        return None
    axis = np.asarray(axis_px, np.float64)
    if axis.shape != (2, 2) or not np.isfinite(axis).all() or not np.hypot(*(axis[1] - axis[0])) > 1.0:
        raise BlankError("the axis is not two places", where="/axis_px", hint="mark both ends of the axis")
    return axis


def _well_measured(found: Crossing, k: int, size_px: tuple[int, int]) -> Bools:
    """A clear edge, off the picture's border, away from corners, and so are its neighbours."""
    margin = 2.0 * k
    inner = (found.points > margin) & (found.points < np.array(size_px) - margin)
    ok = found.ok & inner.all(axis=1) & ~corners(found.points, 4, np.radians(30.0))
    ring = np.concatenate([ok[-2:], ok, ok[:2]])
    return np.asarray(ndimage.binary_erosion(ring, iterations=2)[2:-2])


def _judged(found: Crossing, ok: Bools) -> tuple[Finding, ...]:
    findings = []
    blur = found.typical_blur_px
    if blur > 3.0:
        severity = Severity.ERROR if blur > 7.0 else Severity.WARNING
        told = f"the edge is {2.5 * blur:.0f} px wide"
        advice = "focus on the piece, hold the camera still, give more light"
        findings.append(Finding(severity=severity, code="blurred", message=told, advice=advice))
    if ok.mean() < 0.6:
        told = f"only {100 * ok.mean():.0f} % of the outline is a clear edge"
        advice = "use a background of another colour and soft light, or mend the outline by hand"
        findings.append(Finding(severity=Severity.WARNING, code="edge-unclear", message=told, advice=advice))
    return tuple(findings)
