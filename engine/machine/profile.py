"""What a machine is: its three axes, how it reads an F word, where its Z is zero, how high it travels.

Takes plain numbers and gives one frozen `Profile`. Refuses (ProgramError) letters that are no axis of RS274/NGC
(NISTIR 6556 table 3), limits in disorder, lines of the shop's own that would change the program, and combinations in
which the controller would misread it.
"""

from dataclasses import dataclass
from enum import Enum
from math import isfinite

from engine.kernel.errors import ProgramError
from engine.machine.shop_lines import refuse_shop_lines

__all__ = ["Axis", "FeedRule", "Park", "Profile", "ToolChange", "ZZero"]

AXIS_LETTERS = "XYZABC"
LINEAR_LETTERS = "XYZ"


class FeedRule(Enum):
    """What the controller makes of an F word (NISTIR 6556 2.1.2.5 and 3.5.19)."""

    INVERSE_TIME = "inverse-time"
    LINEAR_AXES_ONLY = "linear-axes-only"
    ALL_AXES = "all-axes"


class ZZero(Enum):
    """Where the radial word counts from: the axis of rotation, or the skin at the touch-off point."""

    AXIS = "axis"
    SURFACE = "surface"


class ToolChange(Enum):
    """How a further tool comes into the spindle: by hand while the program waits, or by a changer (NISTIR 6556 3.6.3).

    Either way the program then waits, since its zero has to be set again.
    """

    STOP = "stop"
    CHANGER = "changer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis. Units follow its use: mm, mm/min, mm/s2 for axial and radial; deg, deg/min, deg/s2 for the rotary.

    None means not known, no limit. `backlash` is the play between the two directions, 0 for none.
    """

    letter: str
    reversed: bool = False
    least: float | None = None
    greatest: float | None = None
    rapid_per_min: float | None = None
    accel_per_s2: float | None = None
    backlash: float = 0.0
    steps_per_unit: float | None = None

    def __post_init__(self) -> None:
        if len(self.letter) != 1 or self.letter not in AXIS_LETTERS:
            raise ProgramError(f"{self.letter!r} is no axis letter", where="/machine/axes", hint="one of X Y Z A B C")
        if self.least is not None and self.greatest is not None and not self.least < self.greatest:
            raise ProgramError(
                f"axis {self.letter} has no room between its limits", where="/machine/axes", hint="min below max"
            )
        for value in (self.rapid_per_min, self.accel_per_s2, self.steps_per_unit):
            if value is not None and not (value > 0 and isfinite(value)):
                raise ProgramError(f"a rate of axis {self.letter} is not above 0", where="/machine/axes")
        if not (self.backlash >= 0 and isfinite(self.backlash)):
            raise ProgramError(f"the backlash of axis {self.letter} is below 0", where="/machine/axes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Park:
    """Where the tool waits after the program, in program coordinates: lift_mm above the highest place of the path."""

    x_mm: float
    angle_deg: float
    lift_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A machine, as far as its programs need to know it. The defaults are those of a small engraver (common
    practice, no source).

    mm_per_turn : None when the rotary word is in degrees; else the word is mm and counts as mm under every feed rule.
    touch_off : (x_mm, angle_deg) where the tip touches the skin when `z_zero` is SURFACE; None: chosen by the plan.
    header, footer : the shop's own lines, copied as they are. dwell_s : pause after the spindle starts.
    longest_line, memory_bytes : characters of a line and bytes of a program that the controller takes; None: no limit.
    zero_error_mm : one standard deviation of the radial zero as it is set.
    axis_error_mm : how far the tool's line may miss the axis of rotation. collet_mm, nose_mm : diameters of the collet
    and of the spindle's nose above it; collet_length_mm : from the collet's face to the nose; 0 where a
    collet is stated, and None: not known.
    """

    name: str = "default"
    axial: Axis = Axis(letter="X", rapid_per_min=1500.0, accel_per_s2=200.0)
    rotary: Axis = Axis(letter="A", rapid_per_min=3600.0, accel_per_s2=720.0)
    radial: Axis = Axis(letter="Z", rapid_per_min=600.0, accel_per_s2=100.0)
    feed_rule: FeedRule = FeedRule.INVERSE_TIME
    mm_per_turn: float | None = None
    z_zero: ZZero = ZZero.AXIS
    touch_off: tuple[float, float] | None = None
    clearance_mm: float = 2.0
    approach_mm: float = 0.3
    park: Park | None = None
    decimals: int = 4
    header: tuple[str, ...] = ()
    footer: tuple[str, ...] = ()
    dwell_s: float = 2.0
    longest_line: int | None = None
    memory_bytes: int | None = None
    zero_error_mm: float = 0.0
    axis_error_mm: float | None = None
    collet_mm: float | None = None
    collet_length_mm: float = 0.0
    nose_mm: float | None = None
    tool_change: ToolChange = ToolChange.STOP

    def __post_init__(self) -> None:
        if len(set(self.letters)) != 3:
            raise ProgramError("two axes share a letter", where="/machine/axes")
        if self.axial.letter not in LINEAR_LETTERS or self.radial.letter not in LINEAR_LETTERS:
            raise ProgramError("the axial and the radial axis take X, Y or Z", where="/machine/axes")
        degrees_as_mm = self.feed_rule is FeedRule.LINEAR_AXES_ONLY and self.mm_per_turn is None
        if degrees_as_mm and self.rotary.letter in LINEAR_LETTERS:
            raise ProgramError(
                "this controller would count the degrees as mm",
                where="/machine/axes/rotary/letter",
                hint="letter A, B or C, or rotary_unit mm-per-turn, or feed_rule all-axes",
            )
        if self.mm_per_turn is not None and not (self.mm_per_turn > 0 and isfinite(self.mm_per_turn)):
            raise ProgramError("mm_per_turn must be above 0", where="/machine/axes/rotary/mm_per_turn")
        if not 1 <= self.decimals <= 6:
            raise ProgramError("decimals must be 1 to 6", where="/machine/decimals")
        if not 0 < self.approach_mm < self.clearance_mm:
            raise ProgramError(
                "the approach height must lie above 0 and below the clearance", where="/machine/approach_mm"
            )
        if self.axis_error_mm is not None and not (self.axis_error_mm >= 0 and isfinite(self.axis_error_mm)):
            raise ProgramError("axis_error_mm must be 0 or more", where="/machine/axis_error_mm")
        for wide in (self.collet_mm, self.nose_mm):
            if wide is not None and not (wide > 0 and isfinite(wide)):
                raise ProgramError("a diameter of the spindle is not above 0", where="/machine/spindle")
        if not (self.collet_length_mm >= 0 and isfinite(self.collet_length_mm)):
            raise ProgramError("the collet's length is below 0", where="/machine/spindle/collet_length_mm")
        refuse_shop_lines(self.header, "header")
        refuse_shop_lines(self.footer, "footer")

    @property
    def letters(self) -> tuple[str, str, str]:
        """Letters of the axial, rotary and radial words."""
        return self.axial.letter, self.rotary.letter, self.radial.letter
