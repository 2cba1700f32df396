"""Where a piece of art goes on the blank, and at what size: mirror first, then size, then turn."""

from dataclasses import dataclass
from enum import Enum

import numpy as np

from engine.artwork import Drawing
from engine.kernel.arrays import Floats
from engine.kernel.errors import LayoutError
from engine.kernel.ragged import Ragged, spread

__all__ = ["Eye", "Fit", "Placement", "Projection", "place"]


class Projection(Enum):
    """How the flat sheet is laid on the skin (`placement.projection` of a job)."""

    EQUIDISTANT = "equidistant"
    CONFORMAL = "conformal"
    EQUAL_AREA = "equal-area"
    TRUE_WIDTH = "true-width"
    FROM_VIEW = "from-view"
    DEVELOPED = "developed"
    FITTED = "fitted"


class Fit(Enum):
    """What a fitted sheet keeps (`placement.fit` of a job): angles, or lengths as well as they can be had."""

    CONFORMAL = "conformal"
    RIGID = "rigid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Eye:
    """Where a person's eye is (`placement.eye` of a job): at a station, an angle and a distance from the axis. None is
    far away: then it looks square to the axis from that angle, and the station does not count.
    """

    x_mm: float
    angle_deg: float
    distance_mm: float | None = None

    def __post_init__(self) -> None:
        for name, value in (("x_mm", self.x_mm), ("angle_deg", self.angle_deg)):
            if not abs(value) < np.inf:
                raise LayoutError("this is no finite number", where=f"placement/eye/{name}", hint="give a number")
        if self.distance_mm is not None and not 0 < self.distance_mm < np.inf:
            where = "placement/eye/distance_mm"
            raise LayoutError(f"{self.distance_mm:g} is no distance", where=where, hint="more than 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The art's centre goes to (x_mm, angle_deg). One of width and height keeps the proportion, both stretch it, none
    takes the file's own size. turn_deg : counter-clockwise seen from outside, about the centre. fit : of the projection
    `fitted` alone. eye : of `from-view` alone; None looks square to the skin at the centre, from far away.
    """

    x_mm: float
    angle_deg: float = 0.0
    width_mm: float | None = None
    height_mm: float | None = None
    mirror: bool = False
    turn_deg: float = 0.0
    projection: Projection = Projection.EQUIDISTANT
    fit: Fit = Fit.CONFORMAL
    eye: Eye | None = None

    def __post_init__(self) -> None:
        for name, value in (("width_mm", self.width_mm), ("height_mm", self.height_mm)):
            if value is not None and not 0 < value < np.inf:
                raise LayoutError(f"{value:g} is no size", where=f"placement/{name}", hint="more than 0")
        for name, value in (("x_mm", self.x_mm), ("angle_deg", self.angle_deg), ("turn_deg", self.turn_deg)):
            if not abs(value) < np.inf:
                raise LayoutError("this is no finite number", where=f"placement/{name}", hint="give a number")


def place(drawing: Drawing, placement: Placement) -> Drawing:
    """The drawing on the sheet in mm, its centre at (0, 0); width and height are those before the turn.

    Raises LayoutError where no size is asked and the file states none.
    """
    width, height = placement.width_mm, placement.height_mm
    if width is None and height is None and not drawing.has_size:
        raise LayoutError("the file states no size in mm", where="placement/width_mm", hint="give a width or a height")
    proportion = drawing.height_mm / drawing.width_mm
    if width is None:
        width = drawing.width_mm if height is None else height / proportion
    if height is None:
        height = width * proportion
    scale = np.array([width / drawing.width_mm, height / drawing.height_mm])
    turn = np.radians(placement.turn_deg)
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    mirror = np.array([-1.0 if placement.mirror else 1.0, 1.0])
    affine: Floats = turned * (scale * mirror)[None, :]
    return Drawing(
        width_mm=width,
        height_mm=height,
        rings=_moved(drawing.rings, affine, backwards=placement.mirror),
        lines=_moved(drawing.lines, affine, backwards=False),
        darkness=drawing.darkness.moved(affine) if drawing.darkness is not None else None,
        notes=drawing.notes,
    )


def _moved(part: Ragged, affine: Floats, *, backwards: bool) -> Ragged:
    """The runs moved; run `backwards` after a mirror, so that exteriors go on running counter-clockwise."""
    points = part.points @ affine.T
    if backwards and len(part):
        last = part.offsets[1:] - 1
        step = spread(0, part.sizes)
        points = points[np.repeat(last, part.sizes) - step]
    return Ragged(points=points, offsets=part.offsets)
