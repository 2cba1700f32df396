"""`Job`: the validated document with every name looked up, and `read_job`, which makes it."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Discriminator, Field, Tag

from engine.artwork import DrawingChoice, Edits, Tone
from engine.artwork.border import Border
from engine.artwork.lettering import FACES, Text
from engine.blank import Skin
from engine.job.arranging import arranging_problems, copies_of
from engine.job.artwork import NOWHERE, ArtworkDocument, ToolDocument
from engine.job.blank import BlankDocument
from engine.job.lettering import first_words
from engine.job.machine import MachineDocument, merged, profile_from
from engine.job.reading import Document, Name, pointer, read
from engine.job.shapes import Needed
from engine.job.tools import Tools, first_tool, in_order, style_of, tools_by_name, tools_of, unknown
from engine.kernel.errors import BlankError, EngineError, JobError, MarkingError, Problem
from engine.kernel.values import KeepOut, Tool
from engine.layout import Placement
from engine.machine import Profile
from engine.marking import Style

__all__ = ["SCHEMA", "Item", "Job", "Known", "MachineChoice", "machine_of", "missing_files", "read_form", "read_job"]

SCHEMA = "roundwright.job/1"
_NONE = ("asset", "text", "border", "repeat")  # to have none of these is no default
MachineChoice = Annotated[
    Annotated[Name, Tag("name")] | Annotated[MachineDocument, Tag("document")],
    Discriminator(lambda value: "name" if isinstance(value, str) else "document"),
]


class JobDocument(Document):
    """The document as it is saved."""

    schema_: Annotated[Literal["roundwright.job/1"], Field(alias="schema")]
    name: Name
    blank: BlankDocument
    artwork: tuple[ArtworkDocument, ...] = Field(default=(), max_length=64)
    tools: tuple[ToolDocument, ...] = Field(default=(), max_length=64)
    machine: MachineChoice = MachineDocument()
    acknowledged: tuple[Name, ...] = Field(default=(), max_length=256)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What a document may name: assets by id with their kind (raster, vector, table, font...), tools and machines."""

    assets: Mapping[str, str] = field(default_factory=dict)
    tools: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    machines: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One piece of art with everything looked up; `index` is its place in the document, `tone` None if left out.

    All but one of `asset`, `text` and `border` are None; the placement of lettering is turned as its lines run.
    picture : edits of a photograph, drawing : how a DXF file is taken; None where the document says nothing of them.
    clearing : the tool that takes the bulk off before `tool` cuts; None where there is none.
    copy : which of a repeated piece's copies it is, from 0; copies_before : copies of the job that stand before it,
    but for the first of each piece. fits : so many copies are to meet round the blank, 0 where its size is its own.
    around : the document's place of the piece that a frame goes round.
    """

    index: int
    asset: str | None
    name: str
    tone: Tone | None
    placement: Placement
    style: Style
    tool: Tool
    depth_mm: float
    passes: int
    step_mm: float | None
    feed_mm_min: float
    plunge_mm_min: float
    rpm: float
    climbs: bool
    level_mm: float
    text: Text | None = None
    picture: Edits | None = None
    drawing: DrawingChoice | None = None
    clearing: Tool | None = None
    border: Border | None = None
    copy: int = 0
    copies_before: int = 0
    fits: int = 0
    around: int | None = None

    @property
    def tools(self) -> tuple[Tool, ...]:
        """In the order in which they cut."""
        return (self.tool,) if self.clearing in (None, self.tool) else (self.clearing, self.tool)

    @property
    def label(self) -> str:
        """What it is called where it is shown: its name, a text's first words, what border it is, or its number."""
        words = first_words(self.text.string) if self.text is not None else ""
        if self.border is not None:
            words = f"{self.border.kind.value} {'border' if self.around is None else 'frame'}"
        return self.name or words or f"art {self.index + 1}"

    @property
    def called(self) -> str:
        """What findings call it: its label, and its number among the job's art, from 1."""
        number = f"art {self.index + 1}"
        return number if self.label == number else f"{self.label} ({number})"

    @property
    def piece_index(self) -> int:
        """Its place among all pieces of the job, every copy counted."""
        return self.index + self.copies_before


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """The whole job. `defaults` names each field that was left out, and the value it took.

    tools : those that are used, in the order in which each comes into the spindle; of a job without art its first.
    """

    name: str
    blank: BlankDocument
    items: tuple[Item, ...]
    machine: Profile
    tools: tuple[Tool, ...]
    acknowledged: tuple[str, ...]
    defaults: tuple[tuple[str, Any], ...]
    document: Mapping[str, Any]

    @property
    def keep_out(self) -> tuple[KeepOut, ...]:
        """Where hardware stands."""
        return tuple(
            KeepOut(from_mm=k.from_mm, to_mm=k.to_mm, why=k.why, radius_mm=k.radius_mm) for k in self.blank.keep_out
        )

    def refuse_touch_off_out_of_reach(self, skin: Skin) -> None:
        """JobError where the machine's own touch-off lies beside the skin or among hardware."""
        problem = _touch_problem(self.machine, skin, self.keep_out, max(tool.outer_mm for tool in self.tools))
        if problem is not None:
            raise JobError([problem])

    def rpm(self, tool: Tool) -> float:
        """The spindle's speed with a tool: the least asked, and never above what the tool allows; 0 without art."""
        return min((*self.asked_rpms(tool)[:1], tool.rpm_max or math.inf)) if self.items else 0.0

    def asked_rpms(self, tool: Tool) -> tuple[float, ...]:
        """The speeds that the pieces of art ask for with a tool, each once, rising."""
        return tuple(sorted({item.rpm for item in self.items if tool in item.tools}))


def read_job(document: object, *, known: Known) -> Job:
    """The job that `document` describes.

    Raises JobError with every problem: wrong types, unknown fields, numbers out of range; where there are none of
    those, names (assets, tools, machines) that do not exist, readings that give no skin, axes that do not fit together;
    last, a touch-off beside the blank or among hardware (of a skin made of files only the plan can tell).
    """
    doc = read(JobDocument, document)
    tools, problems = tools_by_name(doc.tools, known.tools, doc.artwork)
    problems += _asset_problems(doc, known)
    problems += arranging_problems(doc.artwork)
    problems += _blank_problems(doc)
    machine, faults = _machine(doc.machine, known)
    problems += faults
    if machine is None or problems:
        raise JobError(sorted(problems, key=lambda p: p.pointer))
    used = [tools_of(art, tools, first_tool(doc.tools)) for art in doc.artwork]
    styles, problems = _styles(doc, used)
    ordered, faults = in_order(used)
    problems += faults
    if problems:
        raise JobError(problems)
    items = _copies(doc, [_item(k, art, used[k], styles[k]) for k, art in enumerate(doc.artwork)])
    job = Job(
        name=doc.name,
        blank=doc.blank,
        items=items,
        machine=profile_from(machine),
        tools=ordered or (tools[first_tool(doc.tools)],),
        acknowledged=doc.acknowledged,
        defaults=_defaults(doc, items, machine),
        document=document if isinstance(document, Mapping) else {},
    )
    if not any(doc.blank.needed()):
        job.refuse_touch_off_out_of_reach(doc.blank.skin({}))
    return job


def read_form(document: object, *, at: str) -> JobDocument:
    """A job's document in itself, not what it names. JobError with pointers that begin with `at`."""
    return read(JobDocument, document, at=at)


def _touch_problem(machine: Profile, skin: Skin, keep_out: Sequence[KeepOut], outer_mm: float) -> Problem | None:
    """What is wrong with the place at which the machine's own words set the radial axis; None where it is right."""
    if machine.touch_off is None:
        return None
    x, (low, high) = machine.touch_off[0], skin.x_range_mm
    place = pointer("machine", "touch_off", "x_mm")
    if not low <= x <= high:
        return Problem(pointer=place, given=x, allowed=f"a place on the blank, {low:g} to {high:g}")
    for k in keep_out:
        if k.from_mm - outer_mm < x < k.to_mm + outer_mm:
            allowed = f"a place at least {outer_mm:g} mm, the tool's radius, outside {k.words}"
            return Problem(pointer=place, given=x, allowed=allowed)
    return None


def _asset_problems(doc: JobDocument, known: Known) -> list[Problem]:
    problems: list[Problem] = []
    for k, art in enumerate(doc.artwork):
        if art.asset is not None and known.assets.get(art.asset) not in ("raster", "vector"):
            allowed = "the id of a picture or drawing that was uploaded"
            problems.append(Problem(pointer=pointer("artwork", k, "asset"), given=art.asset[:12], allowed=allowed))
        if art.text is not None and art.text.font not in FACES and known.assets.get(art.text.font) != "font":
            allowed = f"a face of the house ({', '.join(FACES)}) or the id of a font that was uploaded"
            place = pointer("artwork", k, "text", "font")
            problems.append(Problem(pointer=place, given=art.text.font[:40], allowed=allowed))
    return problems + missing_files(doc.blank.needed(), known.assets, at="/blank")


def missing_files(needed: Iterable[Needed], assets: Mapping[str, str], *, at: str) -> list[Problem]:
    """Each file that is not there, or is of another kind; pointers begin with `at`."""
    return [
        Problem(pointer=at + file.place, given=file.asset[:12], allowed=f"the id of {file.what} that was uploaded")
        for file in needed
        if assets.get(file.asset) not in file.kinds
    ]


def _blank_problems(doc: JobDocument) -> list[Problem]:
    """Readings from which no skin can be made, told before any planning; files are not at hand here."""
    if any(doc.blank.needed()):
        return []
    try:
        doc.blank.skin({})
    except BlankError as exc:
        return [_problem(doc, exc, exc.where)]
    return []


def _problem(doc: JobDocument, exc: EngineError, place: str) -> Problem:
    """What a value of the engine says against the document's field at `place`, which is told where it is one value."""
    given = _at(doc.model_dump(mode="json"), place)
    allowed = f"{exc.message}: {exc.hint}" if exc.hint else exc.message
    return Problem(pointer=place, given=given if isinstance(given, str | float) else None, allowed=allowed)


def machine_of(choice: MachineChoice, known: Known) -> Profile:
    """The machine of a document that is no job. JobError where the profile it names does not exist, or does not fit."""
    machine, problems = _machine(choice, known)
    if machine is None:
        raise JobError(problems)
    return profile_from(machine)


def _machine(choice: MachineChoice, known: Known) -> tuple[MachineDocument | None, list[Problem]]:
    """The machine's words over those of the stored profile that it names, and what is wrong with them."""
    own = choice if isinstance(choice, MachineDocument) else MachineDocument(profile=choice)
    stored: Mapping[str, Any] = {}
    if own.profile is not None and own.profile != "default":
        place = pointer("machine") if isinstance(choice, str) else pointer("machine", "profile")
        if own.profile not in known.machines:
            return None, [unknown(place, own.profile, "machine profile", sorted(known.machines))]
        stored = known.machines[own.profile]
    try:
        return merged(own, stored, at=pointer("machine")), []
    except JobError as exc:
        return None, list(exc.problems)


def _styles(doc: JobDocument, used: Sequence[Tools]) -> tuple[list[Style], list[Problem]]:
    """The marking of each piece of art with its tools, and what of them does not go together."""
    styles: list[Style] = []
    problems: list[Problem] = []
    for k, (art, tools) in enumerate(zip(doc.artwork, used, strict=True)):
        try:
            styles.append(style_of(art, tools))
        except MarkingError as exc:
            problems.append(_problem(doc, exc, pointer("artwork", k) + "/" + exc.where))
    return styles, problems


def _item(index: int, art: ArtworkDocument, tools: Tools, style: Style) -> Item:
    text = None if art.text is None else art.text.value(true_size="projection" not in art.placement.model_fields_set)
    placement = art.placement.value()
    if text is not None:
        placement = replace(placement, turn_deg=placement.turn_deg + text.turn_deg)
    return Item(
        index=index,
        asset=art.asset,
        name=art.name,
        tone=art.tone.value() if "tone" in art.model_fields_set else None,
        placement=placement,
        style=style,
        tool=tools[0],
        clearing=tools[1],
        depth_mm=art.depth_mm,
        passes=art.passes,
        step_mm=art.step_mm,
        feed_mm_min=art.feed_mm_min,
        plunge_mm_min=art.plunge_mm_min or art.feed_mm_min / 3.0,
        rpm=art.rpm,
        climbs=art.direction == "uphill",
        level_mm=art.level_mm,
        text=text,
        picture=None if art.picture is None else art.picture.value(),
        drawing=None if art.drawing is None else art.drawing.value(),
    )


def _copies(doc: JobDocument, items: Sequence[Item]) -> tuple[Item, ...]:
    """Every copy of every piece, in the document's order."""
    placements = [item.placement for item in items]
    copies: list[Item] = []
    for k, (art, item) in enumerate(zip(doc.artwork, items, strict=True)):
        for copy, place in enumerate(copies_of(doc.artwork, placements, k)):
            copies.append(replace(item, placement=place, copy=copy, copies_before=len(copies) - k))
            fits = art.repeat.times if art.repeat is not None and art.repeat.fit else 0
            if fits or art.border is not None:
                around, border = (art.border.around, art.border.value()) if art.border is not None else (None, None)
                copies[-1] = replace(copies[-1], fits=fits, around=around, border=border)
    return tuple(copies)


def _defaults(doc: JobDocument, items: Sequence[Item], machine: MachineDocument) -> tuple[tuple[str, Any], ...]:
    """Pointer of each field that was left out, and the value it took: worked out where its own default is null."""
    taken = doc.model_dump(mode="json", by_alias=True) | {"machine": machine.model_dump(mode="json")}
    firsts = [item for item in items if item.copy == 0]
    for item, art in zip(firsts, taken["artwork"], strict=True):
        art |= {"tool": item.tool.id, "plunge_mm_min": item.plunge_mm_min}
        if art["repeat"] is not None and art["repeat"]["every_deg"] is None:
            art["repeat"]["every_deg"] = 360.0 / art["repeat"]["times"]
        if item.text is not None:
            art["text"] |= {"true_size": item.text.true_size}
        worked_out = [name for name, value in art["marking"].items() if value is None and hasattr(item.style, name)]
        art["marking"] |= {name: getattr(item.style, name) for name in worked_out}
    return tuple((place, _at(taken, place)) for place in _left_out(doc))


def _at(document: Mapping[str, Any], place: str) -> Any:
    """What stands at a pointer made of our own field names."""
    here: Any = document
    for part in place.split("/")[1:]:
        here = here[int(part)] if isinstance(here, list) else here[part]
    return here


def _left_out(model: BaseModel, at: str = "") -> Iterator[str]:
    """Pointer of each field that the document left out, in the order of the document's models."""
    for name, info in type(model).model_fields.items():
        value = getattr(model, name)
        place = at + pointer(info.alias or name)
        if (name in _NONE and value is None) or value is NOWHERE:
            continue
        if name not in model.model_fields_set:
            yield place
        elif isinstance(value, BaseModel):
            yield from _left_out(value, place)
        elif isinstance(value, tuple):
            for k, entry in enumerate(value):
                if isinstance(entry, BaseModel):
                    yield from _left_out(entry, f"{place}/{k}")
