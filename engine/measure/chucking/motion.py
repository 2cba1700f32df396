"""How a blank stands otherwise than before: a rigid motion from its old frame to its new one, told in a shop's words.

A point p of the blank moves to pivot + (shift, offset_y, offset_z) + T X (p - pivot): X turns it about the old axis, T
tilts it about a line square to the axis, and the pivot is a point of the old axis. Every rigid motion is one of these,
end for end too (a tilt of half a turn), and nothing here takes an angle for small.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats

__all__ = ["Motion", "rotations"]

_STRAIGHT = 1e-15  # sine of a tilt below which its direction is lost in rounding: any will do


def rotations(turn_rad: Floats, tilt_y_rad: Floats, tilt_z_rad: Floats) -> Floats:
    """(s, 3, 3) for (s,) each: the turn about x first, then the tilt about the vector (0, tilt_y, tilt_z).

    Source: the formula of Rodrigues for a rotation by the length of a vector about it.
    """
    y, z = np.asarray(tilt_y_rad, np.float64), np.asarray(tilt_z_rad, np.float64)
    size = np.hypot(y, z)
    s, c = np.sinc(size / np.pi), 0.5 * np.sinc(0.5 * size / np.pi) ** 2
    tilt, turn = np.zeros((2, len(y), 3, 3))
    tilt[:, 0] = np.stack([1.0 - c * size**2, -s * z, s * y], axis=1)
    tilt[:, 1] = np.stack([s * z, 1.0 - c * z**2, c * y * z], axis=1)
    tilt[:, 2] = np.stack([-s * y, c * y * z, 1.0 - c * y**2], axis=1)
    turn[:, 0, 0] = 1.0
    turn[:, 1, 1] = turn[:, 2, 2] = np.cos(turn_rad)
    turn[:, 2, 1] = np.sin(turn_rad)
    turn[:, 1, 2] = -turn[:, 2, 1]
    whole: Floats = tilt @ turn
    return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """A rigid motion, old blank frame to new blank frame.

    shift_mm along x. turn_rad about x. tilt_y_rad, tilt_z_rad: the tilt's vector across the axis, about the point
    `pivot_mm` of the old axis. offset_y_mm, offset_z_mm: where that point comes to lie beside the new axis.
    """

    shift_mm: float = 0.0
    turn_rad: float = 0.0
    tilt_y_rad: float = 0.0
    tilt_z_rad: float = 0.0
    offset_y_mm: float = 0.0
    offset_z_mm: float = 0.0
    pivot_mm: float = 0.0

    @classmethod
    def of(cls, rotation: Floats, translation: Floats, pivot_mm: float = 0.0) -> "Motion":
        """The motion p -> rotation p + translation, (3, 3) and (3,) mm, told about `pivot_mm`."""
        ahead = rotation[:, 0]
        across = float(np.hypot(ahead[1], ahead[2]))
        lean = float(np.arctan2(across, ahead[0]))
        y, z = (-ahead[2] / across, ahead[1] / across) if across > _STRAIGHT else (1.0, 0.0)
        about_x = rotations(np.zeros(1), np.array([lean * y]), np.array([lean * z]))[0].T @ rotation
        moved = rotation[:, 0] * pivot_mm + translation
        return cls(
            shift_mm=float(moved[0] - pivot_mm),
            turn_rad=float(np.arctan2(about_x[2, 1], about_x[1, 1])),
            tilt_y_rad=float(lean * y),
            tilt_z_rad=float(lean * z),
            offset_y_mm=float(moved[1]),
            offset_z_mm=float(moved[2]),
            pivot_mm=pivot_mm,
        )

    @classmethod
    def end_for_end(cls, sum_mm: float, turn_rad: float) -> "Motion":
        """Ends changed over in the chuck: x' = sum - x and theta' = turn - theta."""
        return cls(shift_mm=sum_mm, turn_rad=-turn_rad, tilt_y_rad=float(np.pi))

    @property
    def rotation(self) -> Floats:
        """(3, 3)."""
        every = rotations(np.array([self.turn_rad]), np.array([self.tilt_y_rad]), np.array([self.tilt_z_rad]))
        first: Floats = every[0]
        return first

    @property
    def translation(self) -> Floats:
        """(3,) mm: where the old frame's origin goes."""
        to = np.array([self.pivot_mm + self.shift_mm, self.offset_y_mm, self.offset_z_mm])
        return to - self.rotation[:, 0] * self.pivot_mm

    @property
    def lean_rad(self) -> float:
        """The angle between the old axis and the new one."""
        return float(np.hypot(self.tilt_y_rad, self.tilt_z_rad))

    def moved(self, points_mm: Floats) -> Floats:
        """(..., 3) points of the old frame in the new one."""
        there: Floats = points_mm @ self.rotation.T + self.translation
        return there

    def back(self, points_mm: Floats) -> Floats:
        """(..., 3) points of the new frame in the old one."""
        here: Floats = (points_mm - self.translation) @ self.rotation
        return here

    def then(self, after: "Motion") -> "Motion":
        """Both as one, `after` second, told about the same point of the first old axis."""
        return Motion.of(after.rotation @ self.rotation, after.moved(self.translation), self.pivot_mm)

    def inverse(self) -> "Motion":
        """New frame to old frame, about the same station."""
        return Motion.of(self.rotation.T, self.back(np.zeros(3)), self.pivot_mm)

    def about(self, pivot_mm: float) -> "Motion":
        """The same motion told about another point of the old axis."""
        return Motion.of(self.rotation, self.translation, pivot_mm)
