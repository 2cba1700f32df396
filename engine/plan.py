"""The pipeline, read aloud: a job document becomes a skin, art, a layout, strokes, a path, a program and its proof.

Takes a `Job` and the bytes of its assets; gives a `Plan`. Pure: no file, no clock, no unseeded chance. What is wrong
with the job as a whole raises EngineError; what is wrong with one piece of art is a finding that withholds the program,
so that the rest can still be looked at.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.artwork import read_artwork
from engine.blank import Skin
from engine.job import Item, Job
from engine.kernel.errors import ProgramError, ReachError
from engine.kernel.findings import Finding
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Path, Wanted
from engine.layout import lay_out, place, stretch
from engine.outcome import preview
from engine.outcome.faults import ART_FAULTS, about, fault, unused
from engine.outcome.frame import frame_on_skin
from engine.outcome.programs import write_engraving, write_programs
from engine.outcome.report import forbids, full_report, ordered, proof_facts, without_strokes
from engine.outcome.sheet import sheet_facts
from engine.outcome.touch_off import TouchOff, touch_off
from engine.outcome.wanted import Patch, lay_wanted
from engine.program import Program
from engine.proof import KeepOut, Proof, prove
from engine.toolpath import Laid, Runs, climb, cut, join_runs, lay, link, order, tip_radius, walk

__all__ = ["Plan", "Tell", "plan", "prove_text", "silent"]

Arrays = Mapping[str, NDArray[Any]]
Tell = Callable[[str, float, Arrays | None], None]

MOST_STRETCH_POINTS = 20_000  # points of the art at which the scale is asked: more change no printed digit


EXACT = Tolerance()


def silent(stage: str, progress: float, partial: Arrays | None = None) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One piece of art as it lies on the skin. scale : (least, greatest) mm on the skin for a mm on the sheet."""

    placed: preview.Placed
    laid: Laid
    patch: Patch
    scale: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A finished plan: the report, what the previews draw, the programs as text, the facts of the setup sheet.

    programs : by kind (engrave, air, walk); empty where nothing is cut or a finding forbids them. picture : PNG of the
    simulated engraving, None where nothing is cut.
    """

    report: Mapping[str, Any]
    findings: tuple[Finding, ...]
    preview: Arrays
    preview_meta: Mapping[str, Any]
    programs: Mapping[str, Program] = field(default_factory=dict)
    sheet: Mapping[str, Any] = field(default_factory=dict)
    picture: bytes | None = None
    rest: Callable[[int], Program] | None = None

    def program(self, kind: str = "engrave", *, from_stroke: int | None = None) -> Program:
        """The program of a kind; from a stroke on, to go on after a stop. ProgramError where there is none."""
        if kind not in self.programs:
            raise ProgramError("the findings forbid a program", where=kind, hint="mend what the errors name first")
        if from_stroke is None:
            return self.programs[kind]
        if kind != "engrave" or self.rest is None:
            raise ProgramError("only the engraving goes on from a stroke", where="from_stroke")
        return self.rest(from_stroke)


def plan(job: Job, assets: Mapping[str, bytes], *, tell: Tell = silent, tolerance: Tolerance = EXACT) -> Plan:
    """Plan a whole job.

    assets : bytes of every asset that the job names, by id. tell : called with a stage's name, the share done, and,
    once the strokes are known, what the previews can draw of them.

    Raises EngineError where no skin can be made of the blank, or the machine's own lines cannot stand in a program.
    """
    tell("blank", 0.0, None)
    skin = job.blank.skin(assets)
    findings: list[Finding] = []
    parts = _parts(job, skin, assets, tolerance, findings, tell)
    runs = _runs(parts, skin, tolerance, findings)
    arrays = preview.skin_arrays(skin) | preview.art_arrays([part.placed for part in parts])
    meta = {"x_range_mm": list(skin.x_range_mm), "arts": [part.placed.facts() for part in parts]}
    if not len(runs):
        told = ordered(findings)
        return Plan(report=without_strokes(job, told), findings=told, preview=arrays, preview_meta=meta)
    tell("order", 0.5, None)
    runs = order(runs, job.machine)
    path = link(runs, skin, job.tool, job.machine)
    arrays = arrays | preview.stroke_arrays(path, runs.art)
    tell("proof", 0.7, arrays | preview.meta_array(meta))
    return _proven(job, skin, parts, path, findings, arrays, meta)


def prove_text(job: Job, assets: Mapping[str, bytes], text: bytes) -> dict[str, Any]:
    """What the proof says of any program's text, ours or one edited by hand, against a job; nothing is planned."""
    skin = job.blank.skin(assets)
    findings: list[Finding] = []
    parts = _parts(job, skin, assets, EXACT, findings, silent)
    if not parts:
        return proof_facts(None, ordered(findings))
    zero_r_mm = _touch(job, skin, parts).zero_r_mm
    proof = prove_program(job, skin, text, zero_r_mm, wanted(job, parts))
    return proof_facts(proof, ordered([*findings, *proof.findings]))


def _parts(
    job: Job,
    skin: Skin,
    assets: Mapping[str, bytes],
    tolerance: Tolerance,
    findings: list[Finding],
    tell: Tell,
) -> list[Part]:
    """Every piece of art that can be laid; what is wrong with another goes to the findings."""
    parts = []
    for k, item in enumerate(job.items):
        tell("artwork", 0.05 + 0.3 * k / len(job.items), None)
        try:
            parts.append(_part(item, skin, assets, tolerance, findings))
        except ART_FAULTS as exc:
            findings.append(fault(exc, item))
    return parts


def _part(item: Item, skin: Skin, assets: Mapping[str, bytes], tolerance: Tolerance, findings: list[Finding]) -> Part:
    """One piece of art: read, placed, laid out, marked, laid on the skin."""
    drawing = read_artwork(assets[item.asset], tone=item.tone)
    placed = place(drawing, item.placement)
    layout = lay_out(skin, item.placement)
    marked = item.style.mark(placed, layout)
    findings += [about(finding, item) for finding in marked.findings] + unused(drawing, item)
    laid = lay(marked.strokes, layout, depth_mm=item.depth_mm, tolerance=tolerance)
    patch = Patch(
        drawing=placed,
        layout=layout,
        filled=item.style.fills,
        ring_band=item.style.draws_rings,
        band_mm=item.tool.width_mm(item.depth_mm),
        depth_mm=item.depth_mm,
        x_mm=_span(laid.x_mm, item.placement.x_mm),
        theta_rad=_span(laid.theta_rad, radians(item.placement.angle_deg)),
    )
    points = np.concatenate([placed.rings.points, placed.lines.points])
    least, greatest = stretch(layout, points[:: max(1, len(points) // MOST_STRETCH_POINTS)])
    shown = preview.Placed(item=item, drawing=placed, layout=layout, radius_mm=_mean_radius(skin, item.placement.x_mm))
    return Part(placed=shown, laid=laid, patch=patch, scale=(float(least.min()), float(greatest.max())))


def _runs(parts: Sequence[Part], skin: Skin, tolerance: Tolerance, findings: list[Finding]) -> Runs:
    """The tip's runs for every part, split to climb where asked; where the tool cannot go is a finding."""
    runs = []
    for part in parts:
        item, laid = part.placed.item, part.laid
        if item.climbs:
            laid = climb(laid, skin, tolerance=replace(tolerance, level_mm=item.level_mm))
        try:
            runs.append(
                cut(
                    laid,
                    skin,
                    item.tool,
                    depth_mm=item.depth_mm,
                    passes=item.passes,
                    step_mm=item.step_mm,
                    feed_mm_min=item.feed_mm_min,
                    plunge_mm_min=item.plunge_mm_min,
                    art=item.index,
                    tolerance=tolerance,
                )
            )
        except ReachError as exc:
            findings.append(fault(exc, item))
    return join_runs(runs)


def _proven(
    job: Job,
    skin: Skin,
    parts: Sequence[Part],
    path: Path,
    told: Sequence[Finding],
    arrays: Arrays,
    meta: Mapping[str, Any],
) -> Plan:
    """Write the programs, read the engraving back, carve it, and tell all of it."""
    touch = _touch(job, skin, parts)
    round_the_art = walk([frame_on_skin(p.placed, p.patch) for p in parts], skin, job.tool, job.machine)
    draft = write_engraving(job, skin, path, touch, told)
    proof = prove_program(job, skin, draft.text, touch.zero_r_mm, wanted(job, parts))
    findings = ordered([*told, *proof.findings])
    # The proof's own warnings stand in the header too; the body, and with it the proof, is the same to the byte.
    final = write_programs(job, skin, path, round_the_art, touch, findings)
    shift = final.engrave.text.count(b"\n") - draft.text.count(b"\n")
    findings = tuple(_moved(finding, shift) for finding in findings)
    shown = dict(arrays) | preview.proof_arrays(proof, job.machine, shift)
    scale = min(p.scale[0] for p in parts), max(p.scale[1] for p in parts)
    return Plan(
        report=full_report(job, path, final, proof, findings, scale=scale),
        findings=findings,
        preview=shown,
        preview_meta=dict(meta) | {"depth_mm": proof.depth_mm[1], "time_total_s": final.times_s["total"]},
        programs={} if forbids(findings) else final.by_kind(),
        rest=final.rest,
        sheet=sheet_facts(job, skin, final, proof, findings),
        picture=preview.picture(shown, skin),
    )


def wanted(job: Job, parts: Sequence[Part]) -> Wanted:
    """The depth asked for over all the art, as a plain field."""
    return lay_wanted(
        [part.patch for part in parts],
        feed_mm_min=max(item.feed_mm_min for item in job.items),
        plunge_mm_min=max(item.plunge_mm_min for item in job.items),
    )


def prove_program(job: Job, skin: Skin, text: bytes, zero_r_mm: float, asked: Wanted | None) -> Proof:
    """The proof of a program's text against the job's skin, tool, machine and keep-outs."""
    return prove(
        text,
        skin=skin,
        tool=job.tool,
        machine=job.machine,
        zero_r_mm=zero_r_mm,
        wanted=asked,
        keep_out=tuple(KeepOut(from_mm=k.from_mm, to_mm=k.to_mm, why=k.why) for k in job.blank.keep_out),
        wall_mm=job.blank.wall_mm,
    )


def _touch(job: Job, skin: Skin, parts: Sequence[Part]) -> TouchOff:
    """Where to set the radial axis and where to check it, beside the art."""

    def tip_r(x_mm: float, theta_rad: float) -> float:
        return float(tip_radius(skin, job.tool, np.array([x_mm]), np.array([theta_rad]), np.zeros(1))[0])

    x = min(p.patch.x_mm[0] for p in parts), max(p.patch.x_mm[1] for p in parts)
    return touch_off(
        skin, job.machine, art_x_mm=x, art_theta_rad=radians(job.items[0].placement.angle_deg), tip_r=tip_r
    )


def _span(values: NDArray[np.float64], middle: float) -> tuple[float, float]:
    """Least and greatest of the values; the middle where there are none."""
    return (float(values.min()), float(values.max())) if len(values) else (middle, middle)


def _mean_radius(skin: Skin, x_mm: float) -> float:
    ring = np.linspace(0.0, 2.0 * np.pi, 361)[:-1]
    return float(skin.radius(np.full(360, x_mm), ring).mean())


def _moved(finding: Finding, shift: int) -> Finding:
    """The finding with its line number in a text whose header is `shift` lines longer."""
    if finding.where.line is None or not shift:
        return finding
    return replace(finding, where=replace(finding.where, line=finding.where.line + shift))
