"""The axis of a mesh: found by the inertia of its surface or given, then turned and shifted by hand.

The axis frame: +X along `direction`, x = 0 at `origin` + `x_zero_mm` along it; theta right-handed about +X, 0 towards
the file's axis that follows the greatest component of `direction` (y where the piece lies along the file's x), turned
by `angle_deg`.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity
from engine.measure.scan.mesh import Mesh, mesh_fault

__all__ = ["Axis", "find_axis", "open_scan"]

_UNIT = 1e-15  # how far from 1 rounding leaves the length of a unit vector: such a one stays as it is
LIKE = 0.5  # the two moments that are to be alike differ by no more than this share of what parts them from the third
BALL = 0.02  # least difference of the third moment, as a share of all three: below it a body is a ball
OPEN = 0.03  # of the area: greater sums of the faces' area vectors are those of a surface that does not close
STEP = 1e-6  # components are rounded to this before a greatest one is chosen


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """An axis in the space of the mesh, in mm.

    origin : (3,) a point of it. direction : (3,) of any length above 0, kept as a unit vector; +X. angle_deg : where
    theta = 0 lies. x_zero_mm : where x = 0 lies, from `origin` along `direction`. found : by inertia, and
    not turned or shifted since. findings : doubts about it.
    """

    origin: Floats
    direction: Floats
    angle_deg: float = 0.0
    x_zero_mm: float = 0.0
    found: bool = False
    findings: tuple[Finding, ...] = field(default=())

    def __post_init__(self) -> None:
        origin, direction = frozen_floats(self.origin), frozen_floats(self.direction)
        numbers = (*origin.ravel(), *direction.ravel(), self.angle_deg, self.x_zero_mm)
        length = float(np.linalg.norm(direction))
        if origin.shape != (3,) or direction.shape != (3,) or not np.isfinite(numbers).all() or not length > 0:
            raise BlankError(
                "the axis is not a point and a direction of three numbers each",
                where="/axis",
                hint="leave the axis out to have it found",
            )
        object.__setattr__(self, "origin", origin)
        if abs(length - 1.0) > _UNIT:
            direction = frozen_floats(direction / length)
        object.__setattr__(self, "direction", direction)

    @property
    def frame(self) -> Floats:
        """(3, 3) rows: +X, the direction of theta = 0, and of theta = 90 degrees."""
        _, first, second = _square(self.direction)
        angle = np.radians(self.angle_deg)
        y = np.cos(angle) * first + np.sin(angle) * second
        return np.stack([self.direction, y, np.cross(self.direction, y)])

    def within(self, points: Floats) -> Floats:
        """(n, 3) points of the mesh as (x, y, z) of the axis frame: r = hypot(y, z), theta = atan2(z, y)."""
        moved = (points - self.origin) @ self.frame.T
        moved[:, 0] -= self.x_zero_mm
        return np.asarray(moved)

    def turned(self, about_y_deg: float, about_z_deg: float) -> "Axis":
        """Turned right-handed about the axis frame's z, then about its y as it was, both through `origin`.

        The direction of theta = 0 is carried along.
        """
        b, c = np.radians(about_y_deg), np.radians(about_z_deg)
        about_z = np.array([[np.cos(c), -np.sin(c), 0.0], [np.sin(c), np.cos(c), 0.0], [0.0, 0.0, 1.0]])
        about_y = np.array([[np.cos(b), 0.0, np.sin(b)], [0.0, 1.0, 0.0], [-np.sin(b), 0.0, np.cos(b)]])
        frame = (about_y @ about_z).T @ self.frame
        direction = frame[0] / np.linalg.norm(frame[0])
        _, first, second = _square(direction)
        angle = float(np.degrees(np.arctan2(frame[1] @ second, frame[1] @ first)))
        return replace(self, direction=direction, angle_deg=angle, found=False, findings=())

    def shifted(self, y_mm: float, z_mm: float) -> "Axis":
        """Moved square to itself, along the axis frame's y and z."""
        _, y, z = self.frame
        return replace(self, origin=self.origin + y_mm * y + z_mm * z, found=False, findings=())

    def end_for_end(self) -> "Axis":
        """With +X towards the other end and the same place of x = 0; theta = 0 stays where it was."""
        _, first, second = _square(-self.direction)
        y = self.frame[1]
        angle = float(np.degrees(np.arctan2(y @ second, y @ first)))
        return replace(self, direction=-self.direction, angle_deg=angle, x_zero_mm=-self.x_zero_mm)


def find_axis(mesh: Mesh, unit_mm: float = 1.0) -> Axis:
    """The axis of revolution: through the centroid of the surface, along the principal axis of its inertia whose other
    two moments are closest.

    +X points where the greatest component of the direction is positive (ties: the first), so that a scan that lies
    along an axis of its file keeps its ends; x = 0 at the end of the mesh. `findings` holds a doubt ("axis-unsure")
    where the body is too like a ball, its moments all differ, so that another principal axis may be meant, or its
    surface does not close, so that the axis is drawn to the side that was scanned.
    BlankError where the faces have no area.

    Notes
    -----
    Second moments of a triangle about a point: area / 12 (a aT + b bT + c cT + (a + b + c)(a + b + c)T); textbook.
    """
    corners = mesh.vertices[mesh.faces] * unit_mm
    base = corners[:, 0].mean(axis=0)
    corners = corners - base
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2
    area = np.linalg.norm(across, axis=1)
    whole = float(area.sum())
    if not whole > 0:
        raise mesh_fault("the faces of the mesh have no area", "export the scan again")
    sums = corners.sum(axis=1)
    centre = area @ sums / (3 * whole)
    second = (sums * area[:, None]).T @ sums
    for k in range(3):
        second += (corners[:, k] * area[:, None]).T @ corners[:, k]
    spread = second / (12 * whole) - np.outer(centre, centre)
    moments, axes = np.linalg.eigh(spread)  # rising; those of inertia are their sum minus each
    gaps = np.diff(moments)
    lone = 0 if gaps[0] > gaps[1] else 2
    direction = axes[:, lone]
    first = int(np.argmax(np.abs(np.round(direction / STEP))))
    direction = direction * (1.0 if direction[first] > 0 else -1.0)
    origin = centre + base
    start = float(((mesh.used * unit_mm - origin) @ direction).min())
    doubts = _doubts(gaps, float(moments.sum()), float(np.linalg.norm(across.sum(axis=0))) / whole)
    return Axis(origin=origin, direction=direction, x_zero_mm=start, found=True, findings=doubts)


def _doubts(gaps: Floats, total: float, open_: float) -> tuple[Finding, ...]:
    apart, alike = float(gaps.max()), float(gaps.min())
    if apart > BALL * total and alike < LIKE * apart:
        return (open_scan(f"its faces leave {100 * open_:.0f} % of their area open"),) if open_ > OPEN else ()
    if apart <= BALL * total:
        why = f"the piece is like a ball: its moments of inertia differ by {100 * apart / total:.1f} % only"
    else:
        why = f"no two moments of inertia are alike: they are {100 * alike / apart:.0f} % as far apart as the third"
    return (
        Finding(
            severity=Severity.WARNING,
            code="axis-unsure",
            message=f"the axis is a guess; {why}",
            advice="look at the axis and turn it, or give it",
        ),
    )


def open_scan(how: str) -> Finding:
    """`axis-unsure` of a found axis where parts of the piece are missing, `how` in words."""
    return Finding(
        severity=Severity.WARNING,
        code="axis-unsure",
        message=f"the axis is a guess; the scan does not close: {how}",
        advice="give the axis, or look at it and turn it: what is missing draws it aside",
    )


def _square(direction: Floats) -> Floats:
    """(3, 3): the unit `direction`, the file's axis after its greatest component made square to it, the third."""
    after = (int(np.argmax(np.abs(np.round(direction / STEP)))) + 1) % 3
    first = np.eye(3)[after] - direction[after] * direction
    first /= np.linalg.norm(first)
    return np.stack([direction, first, np.cross(direction, first)])
