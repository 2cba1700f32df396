"""The document of a machine: axes, feed rule, zero, heights; merged over a stored profile and the default one."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from engine.job.reading import Angle, Document, Length, Name, Position, Rate, Words, read
from engine.kernel.errors import JobError, Problem, ProgramError
from engine.machine import Axis, FeedRule, Park, Profile, ToolChange, ZZero

__all__ = ["DEFAULT_MACHINE", "MachineDocument", "merged", "profile_from", "profile_of"]

Letter = Literal["X", "Y", "Z", "A", "B", "C"]
ShopLine = Annotated[str, Field(max_length=256, pattern=r"^[\x20-\x7e]*$")]


class LinearAxisDocument(Document):
    """The carriage or the radial slide; null is not known, no limit."""

    letter: Letter | None = None
    reversed: bool = False
    min_mm: Position | None = None
    max_mm: Position | None = None
    rapid_mm_min: Rate | None = None
    accel_mm_s2: Rate | None = None
    backlash_mm: Annotated[float, Field(ge=0, le=10)] = 0.0
    steps_per_mm: Rate | None = None


class RotaryAxisDocument(Document):
    """The turning axis; mm_per_turn counts where `rotary_unit` is mm-per-turn."""

    letter: Letter | None = None
    reversed: bool = False
    min_deg: Annotated[float, Field(ge=-1e7, le=1e7)] | None = None
    max_deg: Annotated[float, Field(ge=-1e7, le=1e7)] | None = None
    rapid_deg_min: Rate | None = None
    accel_deg_s2: Rate | None = None
    backlash_deg: Annotated[float, Field(ge=0, le=90)] = 0.0
    steps_per_deg: Rate | None = None
    mm_per_turn: Length | None = None


class AxesDocument(Document):
    """The three axes."""

    axial: LinearAxisDocument = LinearAxisDocument()
    radial: LinearAxisDocument = LinearAxisDocument()
    rotary: RotaryAxisDocument = RotaryAxisDocument()


class TouchOffDocument(Document):
    """Where the tip touches the skin to set Z."""

    x_mm: Position
    angle_deg: Angle = 0.0


class ParkDocument(Document):
    """Where the tool waits afterwards; lift_mm above the highest place of the program."""

    x_mm: Position
    angle_deg: Angle = 0.0
    lift_mm: Annotated[float, Field(ge=0, le=1000)] = 10.0


class SpindleDocument(Document):
    """What stands above the tool: diameters of the collet and of the nose above it, and how far the nose is from the
    collet's face; null, and a length of 0 where there is a collet, is not known.
    """

    collet_mm: Annotated[float, Field(gt=0, le=200)] | None = None
    collet_length_mm: Annotated[float, Field(ge=0, le=500)] = 0.0
    nose_mm: Annotated[float, Field(gt=0, le=500)] | None = None


class MachineDocument(Document):
    """A machine profile, whole or in part."""

    profile: Name | None = None
    name: Words = ""
    axes: AxesDocument = AxesDocument()
    rotary_unit: Literal["deg", "mm-per-turn"] = "deg"
    feed_rule: Literal["inverse-time", "linear-axes-only", "all-axes"] = "inverse-time"
    z_zero: Literal["axis", "surface"] = "axis"
    touch_off: TouchOffDocument | None = None
    clearance_mm: Annotated[float, Field(gt=0, le=200)] = 2.0
    approach_mm: Annotated[float, Field(gt=0, le=50)] = 0.3
    park: ParkDocument | None = None
    decimals: Annotated[int, Field(ge=1, le=6)] = 4
    header: tuple[ShopLine, ...] = Field(default=(), max_length=64)
    footer: tuple[ShopLine, ...] = Field(default=(), max_length=64)
    dwell_s: Annotated[float, Field(ge=0, le=120)] = 2.0
    longest_line: Annotated[int, Field(ge=40, le=256)] | None = None
    memory_bytes: Annotated[int, Field(ge=1_000, le=10**12)] | None = None
    zero_error_mm: Annotated[float, Field(ge=0, le=10)] = 0.0
    axis_error_mm: Annotated[float, Field(ge=0, le=100)] | None = None
    spindle: SpindleDocument | None = None
    tool_change: Literal["stop", "changer"] = "stop"


DEFAULT_MACHINE: Mapping[str, Any] = {
    "axes": {
        "axial": {"letter": "X", "rapid_mm_min": 1500.0, "accel_mm_s2": 200.0},
        "rotary": {"letter": "A", "rapid_deg_min": 3600.0, "accel_deg_s2": 720.0},
        "radial": {"letter": "Z", "rapid_mm_min": 600.0, "accel_mm_s2": 100.0},
    }
}


def profile_of(document: MachineDocument, stored: Mapping[str, Any], *, at: str) -> Profile:
    """The profile that `document` means: its own words over `stored` over the default. JobError where it cannot be."""
    return profile_from(merged(document, stored, at=at))


def merged(document: MachineDocument, stored: Mapping[str, Any], *, at: str) -> MachineDocument:
    """The words of `document` over `stored` over the default. JobError where they do not fit together."""
    own = document.model_dump(exclude_unset=True, mode="json")
    whole = read(MachineDocument, _over(_over(DEFAULT_MACHINE, stored), own), at=at)
    try:
        profile_from(whole)
    except ProgramError as exc:
        allowed = f"{exc.message}: {exc.hint}" if exc.hint else exc.message
        raise JobError([Problem(pointer=at + exc.where.removeprefix("/machine"), given=None, allowed=allowed)]) from exc
    return whole


def _over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """`above` laid over `below`, object by object; a list replaces the whole list."""
    merged = dict(below)
    for key, value in above.items():
        held = merged.get(key)
        merged[key] = _over(held, value) if isinstance(value, Mapping) and isinstance(held, Mapping) else value
    return merged


def profile_from(m: MachineDocument) -> Profile:
    """The profile of a whole document, as it stands. ProgramError where its words do not fit together."""
    axial, radial, rotary = m.axes.axial, m.axes.radial, m.axes.rotary
    if m.rotary_unit == "mm-per-turn" and rotary.mm_per_turn is None:
        raise ProgramError(
            "mm_per_turn is needed with rotary_unit mm-per-turn", where="/machine/axes/rotary/mm_per_turn"
        )
    spindle = m.spindle or SpindleDocument()
    return Profile(
        name=m.name or m.profile or "default",
        axial=_linear(axial, "X"),
        radial=_linear(radial, "Z"),
        rotary=Axis(
            letter=rotary.letter or "A",
            reversed=rotary.reversed,
            least=rotary.min_deg,
            greatest=rotary.max_deg,
            rapid_per_min=rotary.rapid_deg_min,
            accel_per_s2=rotary.accel_deg_s2,
            backlash=rotary.backlash_deg,
            steps_per_unit=rotary.steps_per_deg,
        ),
        feed_rule=FeedRule(m.feed_rule),
        mm_per_turn=rotary.mm_per_turn if m.rotary_unit == "mm-per-turn" else None,
        z_zero=ZZero(m.z_zero),
        touch_off=(m.touch_off.x_mm, m.touch_off.angle_deg) if m.touch_off else None,
        clearance_mm=m.clearance_mm,
        approach_mm=m.approach_mm,
        park=Park(x_mm=m.park.x_mm, angle_deg=m.park.angle_deg, lift_mm=m.park.lift_mm) if m.park else None,
        decimals=m.decimals,
        header=m.header,
        footer=m.footer,
        dwell_s=m.dwell_s,
        longest_line=m.longest_line,
        memory_bytes=m.memory_bytes,
        zero_error_mm=m.zero_error_mm,
        axis_error_mm=m.axis_error_mm,
        collet_mm=spindle.collet_mm,
        collet_length_mm=spindle.collet_length_mm,
        nose_mm=spindle.nose_mm,
        tool_change=ToolChange(m.tool_change),
    )


def _linear(axis: LinearAxisDocument, letter: str) -> Axis:
    return Axis(
        letter=axis.letter or letter,
        reversed=axis.reversed,
        least=axis.min_mm,
        greatest=axis.max_mm,
        rapid_per_min=axis.rapid_mm_min,
        accel_per_s2=axis.accel_mm_s2,
        backlash=axis.backlash_mm,
        steps_per_unit=axis.steps_per_mm,
    )
