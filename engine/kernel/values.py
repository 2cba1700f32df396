"""The values that pass between rooms which may not know each other: the tool, the path, the wanted depth."""

import math
from dataclasses import dataclass, field, replace
from enum import Enum, IntEnum

import numpy as np
from numpy.typing import NDArray

from engine.kernel.arrays import Bools, Bytes8, Floats, Ints, frozen_floats, frozen_ints, locked
from engine.kernel.errors import ProgramError

__all__ = ["Ask", "Form", "KeepOut", "Kind", "Path", "Tool", "Wanted"]


class Form(Enum):
    """The form of a tool's end."""

    CONE = "cone"
    BALL = "ball"
    FLAT = "flat"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A tool of revolution: a disc of radius `flat_mm`, then a rounding or a flank, out to the shank.

    diameter_mm : of the shank (cone), ball or flat end. tip_mm : diameter of the flat at a cone's tip, may be 0.
    angle_deg : included angle of a cone. runout_mm : how far the turning tip swings, from one side to the other.
    stick_out_mm : from the tip to the collet; shank_mm : the shank's diameter; flute_mm : length of the cutting part;
    None: not known. tilt_max_deg : the steepest skin it is for; None: what its form stands.
    """

    id: str = "cone-60"
    form: Form = Form.CONE
    diameter_mm: float = 3.175
    tip_mm: float = 0.1
    angle_deg: float = 60.0
    flutes: int = 1
    rpm_max: float | None = None
    runout_mm: float = 0.0
    stick_out_mm: float | None = None
    shank_mm: float | None = None
    flute_mm: float | None = None
    tilt_max_deg: float | None = None

    @property
    def outer_mm(self) -> float:
        """Radius beyond which the tool has no form to cut with."""
        return 0.5 * self.diameter_mm

    @property
    def flat_mm(self) -> float:
        """Radius of the flat disc at the tip: 0 for a ball."""
        return {Form.CONE: 0.5 * self.tip_mm, Form.BALL: 0.0, Form.FLAT: 0.5 * self.diameter_mm}[self.form]

    @property
    def round_mm(self) -> float:
        """Radius of the rounding: that of a ball, else 0."""
        return 0.5 * self.diameter_mm if self.form is Form.BALL else 0.0

    @property
    def flank(self) -> float:
        """Rise of a cone's flank per mm outwards (cot of half the included angle); inf where there is none."""
        return 1.0 / math.tan(math.radians(0.5 * self.angle_deg)) if self.form is Form.CONE else math.inf

    def width_mm(self, depth_mm: float) -> float:
        """Width of the groove on a flat skin at `depth_mm` (a wedge for a cone, a chord of the circle for a ball)."""
        if self.form is Form.FLAT:
            return self.diameter_mm
        if self.form is Form.BALL:
            sunk = min(depth_mm, self.round_mm)
            return 2.0 * math.sqrt(sunk * (2.0 * self.round_mm - sunk))
        return min(self.tip_mm + 2.0 * depth_mm * math.tan(math.radians(0.5 * self.angle_deg)), self.diameter_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A stretch of the axis where hardware stands: jaws, a centre, a steady.

    radius_mm : how far from the axis it reaches; None: not known, and taken to reach as far as the blank does anywhere.
    """

    from_mm: float
    to_mm: float
    why: str = ""
    radius_mm: float | None = None

    @property
    def words(self) -> str:
        """`x 0 to 12 (jaws)`."""
        return f"x {self.from_mm:g} to {self.to_mm:g}{f' ({self.why})' if self.why else ''}"


class Kind(IntEnum):
    """What the move that ends at a row does. CUT, PLUNGE and LIFT feed (G1); TRAVEL is a rapid (G0)."""

    CUT = 0
    PLUNGE = 1
    LIFT = 2
    TRAVEL = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """One flat table for a whole job. Row i is the end of move i; the move into row 0 starts wherever the tool stands.

    x_mm : (n,) along the axis. theta_rad : (n,) unwrapped angle under the tool, right-handed about +x.
    r_mm : (n,) tip's distance from the axis, >= 0. kind : (n,) `Kind`. stroke : (n,) number from 1 of the stroke that
    a move belongs to or leads to, 0 for none; it never falls, but for 0 on the way to the tool's waiting place.
    feed_mm_min : (n,) speed of the tip over the blank, > 0 on every row that feeds (ignored on travel).
    tool : (n,) which of the job's tools, from 0 in order of use, is in the spindle; it never falls, and where it rises
    the tool was changed before the row, which travels and whose move starts nowhere. Left out: the first throughout.
    """

    x_mm: Floats
    theta_rad: Floats
    r_mm: Floats
    kind: Bytes8
    stroke: Ints
    feed_mm_min: Floats
    tool: Ints = field(default_factory=lambda: np.zeros(0, np.int64))

    def __post_init__(self) -> None:
        for name in ("x_mm", "theta_rad", "r_mm", "feed_mm_min"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "kind", locked(np.asarray(self.kind, np.uint8)))
        object.__setattr__(self, "stroke", frozen_ints(self.stroke))
        n = len(self.x_mm)
        if not n:
            raise ProgramError("the path is empty", where="path")
        object.__setattr__(self, "tool", frozen_ints(self.tool if len(self.tool) else np.zeros(n, np.int64)))
        for name in ("x_mm", "theta_rad", "r_mm", "kind", "stroke", "feed_mm_min", "tool"):
            column = getattr(self, name)
            if column.shape != (n,):
                raise ProgramError(f"{name} has shape {column.shape}, x_mm has ({n},)", where="path")
            if not np.isfinite(column).all():
                raise ProgramError(
                    f"{name} is not a finite number", where=f"path row {int(np.isfinite(column).argmin())}"
                )
        if not self.r_mm.min() >= 0:
            raise ProgramError("the tip is beyond the axis", where=f"path row {int(self.r_mm.argmin())}")
        if self.kind.max() > Kind.TRAVEL:
            raise ProgramError("unknown kind", where=f"path row {int(self.kind.argmax())}")
        if self.kind[0] != Kind.TRAVEL:
            raise ProgramError("the first row must be a travel to a safe place", where="path row 0")
        idle = (self.kind != Kind.TRAVEL) & ~(self.feed_mm_min > 0)
        if idle.any():
            raise ProgramError("a feeding row needs a feed > 0", where=f"path row {int(idle.argmax())}")
        if self.stroke.min() < 0 or (np.diff(self.stroke[self.stroke > 0]) < 0).any():
            raise ProgramError("stroke numbers fall", where="path")
        changed = np.diff(self.tool)
        if self.tool[0] < 0 or (changed < 0).any():
            raise ProgramError("tool numbers fall", where="path")
        unsafe = (changed > 0) & (self.kind[1:] != Kind.TRAVEL)
        if unsafe.any():
            raise ProgramError("a changed tool must travel first", where=f"path row {int(unsafe.argmax()) + 1}")

    def __len__(self) -> int:
        return len(self.x_mm)

    @property
    def stints(self) -> tuple[tuple[int, int], ...]:
        """First row, and the one after the last, of each tool that is used, in order."""
        begins = [0, *(np.flatnonzero(np.diff(self.tool)) + 1).tolist()]
        return tuple(zip(begins, [*begins[1:], len(self)], strict=True))


class Ask(IntEnum):
    """What is asked of a cell: nothing; one depth; so much of the skin opened that it looks as dark as asked; a depth
    that changes with the art, so that no groove of the greatest depth is to fit; one depth where it is cut, which it
    need not be.
    """

    NOTHING = 0
    EVEN = 1
    TONE = 2
    GRADED = 3
    ALLOWED = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """The depth asked for, as a plain field on the blank, and what the moves that make it were allowed.

    x_mm : (nx,) and theta_rad : (nt,), nt >= 2: evenly spaced, rising middles of the field's cells; theta covers a
    window, or a whole turn when nt steps make one. depth_mm : (nx, nt) asked along the normal, 0 where nothing is
    wanted. feed_mm_min, plunge_mm_min : the greatest feeds asked anywhere in the job (plunge: along the radial axis).
    rpms : the spindle's speed with each of the job's tools, none where it is not told. paces : the (feed, plunge) pairs
    asked, where pieces of art differ; pace : (nx, nt) then, bit k set where pair k is asked. tools : (nx, nt) where
    pieces of art have tools of their own, bit k set where tool k is to cut; None: every tool anywhere. asks : (nx, nt)
    `Ask`; None: EVEN where there is a depth. darkness : (nx, nt) the share of the skin to be opened where a tone is
    asked, and depth_mm but bounds the depth; None: nowhere.
    beside_mm : how far beside the art a groove that stands on its edge may open; None: as far as the tool is wide.
    """

    x_mm: Floats
    theta_rad: Floats
    depth_mm: Floats
    feed_mm_min: float
    plunge_mm_min: float
    rpms: tuple[float, ...] = ()
    paces: tuple[tuple[float, float], ...] = ()
    pace: Bytes8 | None = None
    tools: Bytes8 | None = None
    asks: Bytes8 | None = None
    darkness: NDArray[np.float32] | None = None
    beside_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("x_mm", "theta_rad", "depth_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        if not len(self.x_mm) or len(self.theta_rad) < 2:
            raise ValueError("a wanted field has a station and two angles at least")
        if self.depth_mm.shape != (len(self.x_mm), len(self.theta_rad)):
            cells = f"{len(self.x_mm)} by {len(self.theta_rad)} cells"
            raise ValueError(f"depth {self.depth_mm.shape} does not fit {cells}")
        if self.darkness is not None:
            object.__setattr__(self, "darkness", locked(np.asarray(self.darkness, np.float32)))
        if self.asks is not None:
            object.__setattr__(self, "asks", locked(np.asarray(self.asks, np.uint8)))
        for name in ("asks", "darkness"):
            field = getattr(self, name)
            if field is not None and field.shape != self.depth_mm.shape:
                raise ValueError(f"{name} {field.shape} does not fit the depths {self.depth_mm.shape}")
        if self.darkness is not None and self.asks is None:
            raise ValueError("darkness is for cells that ask for a tone")
        if self.pace is not None:
            object.__setattr__(self, "pace", locked(np.asarray(self.pace, np.uint8)))
            if self.pace.shape != self.depth_mm.shape or int(self.pace.max(initial=0)) >> len(self.paces):
                raise ValueError(f"{len(self.paces)} paces and a pace field {self.pace.shape} do not fit the depths")
        if self.tools is not None:
            object.__setattr__(self, "tools", locked(np.asarray(self.tools, np.uint8)))
            if self.tools.shape != self.depth_mm.shape:
                raise ValueError(f"a field of tools {self.tools.shape} does not fit the depths")

    def asked(self, what: Ask) -> Bools:
        """(nx, nt) the cells of which that is asked."""
        if self.asks is not None:
            return np.asarray(self.asks == what)
        wanted: Bools = self.depth_mm > 0
        return {Ask.NOTHING: ~wanted, Ask.EVEN: wanted}.get(what, np.zeros_like(wanted))

    def cut_by(self, number: int) -> Bools:
        """(nx, nt) the cells of art that tool `number` is to cut."""
        wanted: Bools = self.depth_mm > 0
        return wanted if self.tools is None else wanted & (self.tools >> np.uint8(number) & 1).astype(np.bool_)

    def of_tool(self, number: int) -> "Wanted":
        """What tool `number` is to cut: the same field, nothing asked where others alone are to."""
        if self.tools is None:
            return self
        own = self.cut_by(number)
        asks = None if self.asks is None else np.where(own, self.asks, np.uint8(Ask.NOTHING))
        return replace(self, depth_mm=np.where(own, self.depth_mm, 0.0), asks=asks)

    def rpm(self, number: int) -> float:
        """The spindle's speed with tool `number`, 0 where it is not told."""
        return self.rpms[number] if number < len(self.rpms) else 0.0
