"""Found outlines to the thinned edge points that a skin is fitted to; refuses what cannot be used, and says why."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity
from engine.measure.photographs.camera import Setup, camera_of, marked
from engine.measure.photographs.edge import Edge

__all__ = ["ALL_ROUND", "EdgePoints", "edge_points"]

ALL_ROUND = 8  # photographs that show a section from all sides; of fewer less is asked
_FEWEST = 40  # edge points in all, below which no skin is told


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgePoints:
    """off_px : (n, 2) from the picture's middle. photo : (n,) which. side : (n,) -1 or 1, of the axis. run : (n,) order
    along the outline. beta_rad : (photos,) blank angle towards the camera. findings : those of the outlines.
    """

    off_px: Floats
    photo: Ints
    side: Ints
    run: Ints
    beta_rad: Floats
    findings: tuple[Finding, ...]

    @property
    def photos(self) -> int:
        """How many photographs were given."""
        return len(self.beta_rad)


def edge_points(edges: Sequence[Edge], angles_deg: Sequence[float], setup: Setup, *, step_mm: float) -> EdgePoints:
    """Means over `step_mm` of each outline (on a curve of radius R such a mean lies step^2 / 24 R inside).

    Raises BlankError: counts that differ, mixed sizes, an angle that is no number, no usable edge.
    """
    _checked(edges, angles_deg, setup)
    camera = camera_of(setup)
    found: list[tuple[Floats, Ints, Ints, Ints]] = []
    findings: list[Finding] = []
    for i, edge in enumerate(edges):
        findings += [replace(one, where=replace(one.where, pointer=f"/photos/{i}")) for one in edge.findings]
        if len(edge.points_px) and not any(one.severity is Severity.ERROR for one in edge.findings):
            mean, run = _thinned(edge, step_mm / camera.mm_per_px)
            x, y = marked(camera, mean)
            near = (x > -0.05 * setup.length_mm) & (x < 1.05 * setup.length_mm) & (np.abs(y) > 0.2)
            j = np.flatnonzero(near)
            found.append((mean[j], np.full(len(j), i), np.sign(y[j]).astype(np.int64), run[j]))
    if sum(len(one[0]) for one in found) < _FEWEST:
        said = "; ".join(sorted({one.message for one in findings})) or "none has points between the marked ends"
        hint = "look at the found edges; use a plain background of another colour than the piece"
        raise BlankError(f"no photograph shows a usable outline: {said}", where="/photos", hint=hint)
    off, photo, side, run = (np.concatenate(column) for column in zip(*found, strict=True))
    beta = np.radians(np.asarray(angles_deg, np.float64) + setup.camera_deg)
    return EdgePoints(off_px=off, photo=photo, side=side, run=run, beta_rad=beta, findings=tuple(findings))


def _thinned(edge: Edge, step_px: float) -> tuple[Floats, Ints]:
    """Means of the good points of each stretch, from the picture's middle, and the stretches' numbers."""
    off = edge.points_px - np.asarray(edge.size_px) / 2.0
    spacing = float(np.median(np.hypot(*np.diff(off, axis=0).T)))
    k = max(1, round(step_px / max(spacing, 1e-3)))
    m = len(off) // k
    good = edge.ok[: m * k].reshape(m, k).astype(np.float64)
    total = good.sum(axis=1)
    mean = (off[: m * k].reshape(m, k, 2) * good[:, :, None]).sum(axis=1) / np.maximum(total, 1.0)[:, None]
    run = np.flatnonzero(total > 0.7 * k)
    return mean[run], run


def _checked(edges: Sequence[Edge], angles_deg: Sequence[float], setup: Setup) -> None:
    if len(edges) != len(angles_deg):
        told = f"{len(edges)} photographs but {len(angles_deg)} angles"
        raise BlankError(told, where="/photos", hint="give each photograph the angle at which the rotary stood")
    for i, (edge, angle) in enumerate(zip(edges, angles_deg, strict=True)):
        if tuple(edge.size_px) != tuple(setup.size_px):
            told = f"this photograph is {edge.size_px[0]} x {edge.size_px[1]} px, not {setup.size_px[0]} x "
            hint = "take all with the same camera, held the same way and not cropped"
            raise BlankError(f"{told}{setup.size_px[1]}", where=f"/photos/{i}", hint=hint)
        if not np.isfinite(angle):
            raise BlankError("the angle is no number", where=f"/photos/{i}/angle_deg", hint="type it in degrees")
    if setup.axis_photo is not None and not 0 <= setup.axis_photo < len(edges):
        raise BlankError("the axis was marked in no photograph", where="/axis_photo", hint="name one that is there")
