"""What turns picture points into rays: the camera, found from two marked points of the axis.

Frames: lab X = the axis of rotation, Z from the axis to the camera, Y to the right of the picture when +X is up; a
place of the skin seen with the blank angle beta towards the camera stands at (x, r sin(theta - beta), r cos(..)).
Picture: pixel corners at integers, y down; the optical axis meets the picture's middle.
"""

import math
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError
from engine.measure.photographs.lens import Lens

__all__ = ["Camera", "Setup", "camera_of", "marked", "perfect", "rays_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """How the photographs were taken, and how well each number is known (one standard deviation each).

    axis_from_px, axis_to_px : the axis at x = 0 and at x = length_mm. size_px : (w, h). camera_mm : distance of the
    camera from the axis line, None = far away, not known. camera_deg : blank angle towards the camera at rotary 0.
    lens : from the card; None = not known, taken as free of distortion.
    axis_photo : the photograph in which the axis was marked; None = the marks stand for all of them.
    holder_sigma_mm : runout, in either direction, of round hardware that the pictures show beyond the marks; None = it
    is no guide. 0.03 is a chuck that reads 0.1 mm on a dial at worst (common practice, no source).
    camera_sigma : share of camera_mm. step_sigma : share by which every step of the rotary may be too long alike.
    Raises BlankError with a pointer into the document of the photographs.
    """

    axis_from_px: tuple[float, float]
    axis_to_px: tuple[float, float]
    size_px: tuple[int, int]
    length_mm: float
    camera_mm: float | None = None
    camera_deg: float = 0.0
    lens: Lens | None = None
    axis_photo: int | None = None
    axis_sigma_px: float = 1.0
    angle_sigma_deg: float = 0.5
    step_sigma: float = 0.01
    wobble_sigma_mm: float = 0.3
    camera_sigma: float = 0.03
    pitch_sigma_deg: float = 0.5
    edge_sigma_px: float = 0.25
    holder_sigma_mm: float | None = 0.03

    def __post_init__(self) -> None:
        size = np.asarray(self.size_px, np.float64)
        for name, point in (("from_px", self.axis_from_px), ("to_px", self.axis_to_px)):
            at = np.asarray(point, np.float64)
            if not (np.isfinite(at).all() and (at >= 0).all() and (at <= size).all()):
                raise BlankError("this end of the axis lies outside the photographs", where=f"/axis/{name}", hint=_MARK)
        if not self.axis_px > 50:
            raise BlankError("the two ends of the axis coincide", where="/axis/to_px", hint=_MARK)
        if not 0.0 < self.length_mm < math.inf:
            raise BlankError("the length along the axis is no length", where="/length_mm", hint="measure it")
        if self.camera_mm is not None and not 0.5 * self.length_mm < self.camera_mm < math.inf:
            hint = "measure from the lens to the axis, or leave it out where the camera is far away"
            raise BlankError("the camera stands closer than half the piece", where="/camera_mm", hint=hint)

    @property
    def axis_px(self) -> float:
        """Distance of the two marked points, px."""
        return math.hypot(self.axis_to_px[0] - self.axis_from_px[0], self.axis_to_px[1] - self.axis_from_px[1])

    @property
    def mm_per_px(self) -> float:
        """Size of a pixel at the axis."""
        return self.length_mm / self.axis_px


_MARK = "mark two points of the axis of rotation that lie well apart"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Camera:
    """along, across : (2,) picture directions of +X and +Y. focal_px : inf without perspective. centre_mm : (3,) lab.

    from_px : (2,) along and across of x = 0 from the picture's middle, through a perfect lens.
    """

    along: Floats
    across: Floats
    mm_per_px: float
    focal_px: float
    centre_mm: Floats
    pitch_rad: float
    from_px: tuple[float, float]
    lens: Lens
    size_px: tuple[int, int]


def perfect(lens: Lens, off_px: Floats, size_px: tuple[int, int]) -> Floats:
    """Points (n, 2) from the picture's middle, as a lens without distortion would have shown them."""
    if lens.k1 == 0.0 and lens.k2 == 0.0:
        return off_px
    middle = np.asarray(size_px, np.float64) / 2.0
    return lens.undistort(off_px + middle, size_px) - middle


def marked(camera: Camera, off_px: Floats) -> tuple[Floats, Floats]:
    """(x, y) mm of points (n, 2) from the picture's middle along and across the marked axis, perspective left aside."""
    straight = perfect(camera.lens, off_px, camera.size_px)
    x, y = straight @ camera.along - camera.from_px[0], straight @ camera.across - camera.from_px[1]
    return x * camera.mm_per_px, y * camera.mm_per_px


def camera_of(
    setup: Setup,
    *,
    shift_px: float = 0.0,
    roll_rad: float = 0.0,
    pitch_rad: float = 0.0,
    camera_share: float = 0.0,
    k1: float = 0.0,
) -> Camera:
    """The camera that sees the marked axis where it was marked, after corrections.

    shift_px moves the axis' line square to itself and roll_rad turns it in the picture; pitch_rad leans the optical
    axis towards +X; camera_share lengthens camera_mm; k1 is added to the lens'. The focal length and the camera's
    place follow from the two points; camera_mm reaches from the camera to the axis' line. Derived here.
    """
    told = setup.lens or Lens()
    lens = Lens(k1=told.k1 + k1, k2=told.k2)
    marks = np.array([setup.axis_from_px, setup.axis_to_px], np.float64) - np.asarray(setup.size_px) / 2.0
    marks = perfect(lens, marks, setup.size_px)
    half = (marks[1] - marks[0]) / 2.0
    reach = float(np.hypot(half[0], half[1]))
    a, b = half / reach, np.array([-half[1], half[0]]) / reach
    c, s = math.cos(roll_rad), math.sin(roll_rad)
    middle = (marks[0] + marks[1]) / 2.0 + shift_px * b
    a, b = c * a + s * b, c * b - s * a
    middle_a, b0 = float(middle @ a), float(middle @ b)
    a0, a1 = middle_a - reach, middle_a + reach
    mm_per_px = setup.length_mm / (2.0 * reach)
    focal, centre = math.inf, np.zeros(3)
    if setup.camera_mm is not None:
        focal, centre = _placed(setup, setup.camera_mm * (1.0 + camera_share), pitch_rad, (a0, a1, b0))
    return Camera(
        along=a,
        across=b,
        mm_per_px=mm_per_px,
        focal_px=focal,
        centre_mm=centre,
        pitch_rad=pitch_rad,
        from_px=(a0, b0),
        lens=lens,
        size_px=setup.size_px,
    )


def _placed(setup: Setup, away_mm: float, pitch_rad: float, axis: tuple[float, float, float]) -> tuple[float, Floats]:
    """Focal length in px and the camera's place, by fixed-point steps (they contract as (offset / distance)^2)."""
    a0, a1, b0 = axis
    cp, sp = math.cos(pitch_rad), math.sin(pitch_rad)
    z, y = away_mm, 0.0
    focal = z * (a1 - a0) / setup.length_mm

    def slant(q: float) -> float:
        return (q * cp + focal * sp) / (focal * cp - q * sp)

    for _ in range(30):
        focal *= z * (slant(a1) - slant(a0)) / setup.length_mm
        y = -b0 * z / (focal * cp - (a0 + a1) / 2.0 * sp)
        z = math.sqrt(max(away_mm**2 - y**2, (0.1 * away_mm) ** 2))
    return focal, np.array([-z * slant(a0), y, z])


def rays_of(camera: Camera, off_px: Floats) -> tuple[Floats, Floats]:
    """Points (n, 2) from the picture's middle as rays: each one's point nearest the axis (n, 3), direction (n, 3)."""
    straight = perfect(camera.lens, off_px, camera.size_px)
    a, b = straight @ camera.along, straight @ camera.across
    if math.isinf(camera.focal_px):
        a0, b0 = camera.from_px
        foot = np.stack([(a - a0) * camera.mm_per_px, (b - b0) * camera.mm_per_px, 0.0 * a], axis=1)
        return foot, np.tile([0.0, 0.0, -1.0], (len(a), 1))
    cp, sp, f = math.cos(camera.pitch_rad), math.sin(camera.pitch_rad), camera.focal_px
    d = np.stack([a * cp + f * sp, b, a * sp - f * cp], axis=1)
    d /= np.linalg.norm(d, axis=1, keepdims=True)
    y, z = camera.centre_mm[1], camera.centre_mm[2]
    t = -(y * d[:, 1] + z * d[:, 2]) / (d[:, 1] ** 2 + d[:, 2] ** 2)
    return camera.centre_mm + t[:, None] * d, d
