"""The pipeline, read aloud: a job document becomes a skin, art, a layout, strokes, a path, a program and its proof.

Takes a `Job` and the bytes of its assets; gives a `Plan`. Pure: no file, no clock, no unseeded chance. What is wrong
with the job as a whole raises EngineError; what is wrong with one piece of art is a finding that withholds the program,
so that the rest can still be looked at.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from math import radians
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.job import Job
from engine.kernel.arrays import Floats
from engine.kernel.errors import ProgramError, ReachError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Path, Tool, Wanted
from engine.outcome import preview
from engine.outcome.art_raster import Patch
from engine.outcome.binding import judge_binding
from engine.outcome.faults import machine_fault, not_known, nothing_to_cut, runout_findings, spindle_findings
from engine.outcome.frame import box_on_skin, frame_on_skin
from engine.outcome.header import begins_with, touches_nothing
from engine.outcome.programs import Setup, air_run, engraving, finished, rest_of, tools_of, walk_round
from engine.outcome.proving import Asked, prove_for, prove_idle_for
from engine.outcome.report import forbids, full_report, ordered, proof_facts, without_strokes
from engine.outcome.sheet import sheet_facts
from engine.outcome.touch_off import TouchOff, judge_touch_off, touch_off
from engine.outcome.wanted import lay_wanted
from engine.pieces import Arrays, Piece, Tell, drawn, pieces_of, runs_of, tools_used, unheeded
from engine.program import Program
from engine.proof import fine_parts, judge_size
from engine.toolpath import Leg, Runs, covering, join_runs, link_legs, order, tip_radius, walk

__all__ = ["Plan", "Tell", "plan", "prove_text", "silent"]

EXACT = Tolerance()
NOTHING_ASKED = Finding(
    severity=Severity.NOTE,
    code="nothing-asked",
    message="the job holds no art to compare with: depth and place of the cut are not judged",
    where=Where(pointer="/artwork"),
)


def silent(stage: str, progress: float, partial: Arrays | None = None) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A finished plan: the report, what the previews draw, the programs as text, the facts of the setup sheet.

    programs : by kind (engrave, air, walk); empty where nothing is cut or a finding forbids them. picture, difference :
    PNG of the simulated engraving, and of where it is not what was asked; None where nothing is cut.
    """

    report: Mapping[str, Any]
    findings: tuple[Finding, ...]
    preview: Arrays
    preview_meta: Mapping[str, Any]
    programs: Mapping[str, Program] = field(default_factory=dict)
    sheet: Mapping[str, Any] = field(default_factory=dict)
    picture: bytes | None = None
    difference: bytes | None = None
    rest: Callable[[int], Program] | None = None

    def program(self, kind: str = "engrave", *, from_stroke: int | None = None) -> Program:
        """The program of a kind; from a stroke on, to go on after a stop. ProgramError where there is none."""
        if kind not in self.programs:
            told = next((f for f in self.findings if f.code in (f"{kind}-withheld", "nothing-to-cut")), None)
            if told is not None:
                raise ProgramError(told.message, where=kind, hint=told.advice)
            raise ProgramError("the findings forbid a program", where=kind, hint="mend what the errors name first")
        if from_stroke is None:
            return self.programs[kind]
        if kind != "engrave" or self.rest is None:
            raise ProgramError("only the engraving goes on from a stroke", where="from_stroke")
        return self.rest(from_stroke)


def plan(job: Job, assets: Mapping[str, bytes], *, tell: Tell = silent, tolerance: Tolerance = EXACT) -> Plan:
    """Plan a whole job.

    assets : bytes of every asset that the job names, by id. tell : called with a stage's name, the share done, and,
    once the strokes are known, in whatever order, what the previews can draw of them.

    Raises EngineError where no skin can be made of the blank, JobError where the machine's own touch-off is beside it.
    """
    tell("blank", 0.0, None)
    skin = job.blank.skin(assets)
    job.refuse_touch_off_out_of_reach(skin)
    pieces, findings = pieces_of(job, skin, assets, tolerance, tell)
    tools = tools_used(job, pieces)
    runs, unreached = runs_of(pieces, tools, skin, tolerance)
    of_tools = [*spindle_findings(job, tools), *runout_findings(job, tools), *unheeded(job, pieces)]
    findings = [*of_tools, *findings, *unreached]
    arrays = preview.skin_arrays(skin) | preview.art_arrays([piece.placed for piece in pieces])
    meta = {"x_range_mm": list(skin.x_range_mm), "arts": [piece.placed.facts() for piece in pieces]}
    tell("order", 0.5, arrays | drawn(join_runs(runs)) | preview.meta_array(meta))
    cutting = [(tool, of) for tool, of in zip(tools, runs, strict=True) if len(of)]
    tools = tuple(tool for tool, _ in cutting)
    with ThreadPoolExecutor(1) as beside:  # compiled loops and arrays release the interpreter's lock
        asked = beside.submit(_wanted, job, pieces, tools) if cutting else None
        legs, unfit = _in_order(cutting, job)
    findings += unfit
    if asked is None or not legs:
        told = ordered(findings if forbids(findings) else [*findings, nothing_to_cut(job)])
        return Plan(report=without_strokes(job, told), findings=told, preview=arrays, preview_meta=meta)
    tell("proof", 0.7, None)
    setup = Setup(job=job, skin=skin, tools=tools, touches=_touches(job, skin, pieces, tools))
    return _proven(setup, pieces, legs, asked.result(), findings, arrays, meta)


def prove_text(job: Job, assets: Mapping[str, bytes], text: bytes) -> dict[str, Any]:
    """What the proof says of any program's text, ours or one edited by hand, against a job; nothing is planned.

    Where the job has no art that could be laid, the text is judged by what it does alone. A text whose header calls it
    an air run or a walk is judged as one: it is to touch nothing.
    """
    skin = job.blank.skin(assets)
    job.refuse_touch_off_out_of_reach(skin)
    pieces, findings = pieces_of(job, skin, assets, EXACT, silent)
    tools = tools_used(job, pieces)
    zero_r_mm = _touches(job, skin, pieces, tools)[0].zero_r_mm
    findings += judge_binding(text, job)
    idle = touches_nothing(text)
    asked = Asked(wanted=_wanted(job, pieces, tools)) if pieces and not idle else None
    if idle:  # none is changed: whichever is in the spindle, it touches nothing
        findings += not_known(prove_idle_for(job, skin, text, zero_r_mm, tools[1:]), findings)
        tools = tools[:1]
    first = min(begins_with(text), len(tools) - 1)
    proof = prove_for(job, skin, text, zero_r_mm, asked, tools=tools, first_tool=first, idle=idle)
    if not pieces and not idle:
        findings.append(NOTHING_ASKED)
    return proof_facts(proof, ordered([*findings, *proof.findings]))


def _in_order(cutting: Sequence[tuple[Tool, Runs]], job: Job) -> tuple[list[Leg], list[Finding]]:
    """The runs of each tool in the order of cutting; none where the machine cannot take them, and why."""
    try:
        return [Leg(number=k, tool=tool, runs=order(of, job.machine)) for k, (tool, of) in enumerate(cutting)], []
    except ReachError as exc:
        return [], [machine_fault(exc)]


def _proven(
    setup: Setup,
    pieces: Sequence[Piece],
    legs: Sequence[Leg],
    wanted: Wanted,
    told: Sequence[Finding],
    shown: Arrays,
    meta: Mapping[str, Any],
) -> Plan:
    """Write the programs, read them back, carve the engraving, and tell all of it."""
    job, skin, first = setup.job, setup.skin, setup.touch.first
    place, zero = (first.x_mm, first.angle_deg), setup.touch.zero_r_mm
    path = link_legs(legs, skin, job.machine, job.keep_out, waits_at=place, zero_r_mm=zero)
    with ThreadPoolExecutor(1) as beside:
        fine = beside.submit(fine_parts, wanted, skin, setup.tools)
        asked = Asked(wanted=wanted, fine=fine.result)
        walking = beside.submit(walk_round, setup, _walks(setup, pieces))
        lifted = beside.submit(air_run, setup, path)
        draft = engraving(setup, path)
        proof = setup.proof(draft.program.text, asked)
    (in_air, of_air), (round_art, of_walk) = lifted.result(), walking.result()
    touched = judge_touch_off(setup.touch, proof.carved, setup.tools[1:])
    findings = ordered([*told, *proof.findings, *touched, *not_known((*of_air, *of_walk), proof.findings)])
    # All warnings stand in the header too; the body, and with it the proof, is the same to the byte.
    final = [finished(setup, one, findings) for one in (draft, in_air, round_art) if one is not None]
    shift = final[0].program.header_lines - draft.program.header_lines
    findings = tuple(_moved(finding, shift) for finding in findings)
    # With all warnings in its header the program may be longer than the controller takes.
    findings = ordered([*findings, *not_known(judge_size(final[0].program.text, job.machine), findings)])
    shown = dict(shown) | drawn(join_runs([leg.runs for leg in legs])) | preview.proof_arrays(proof, shift)
    scale = min(p.scale[0] for p in pieces), max(p.scale[1] for p in pieces)
    sigma = min(p.sigma_mm[0] for p in pieces), max(p.sigma_mm[1] for p in pieces)

    def rest(stroke: int) -> Program:
        return rest_of(setup, path, asked, stroke, findings)

    return Plan(
        report=full_report(setup, final, proof, findings, scale=scale, sigma_mm=sigma),
        findings=findings,
        preview=shown,
        preview_meta=dict(meta)
        | {"depth_mm": proof.depth_mm[1], "time_total_s": draft.times_s["total"]}
        | {"tools": tools_of(setup, draft, proof)},
        programs={} if forbids(findings) else {one.kind: one.program for one in final},
        rest=rest,
        sheet=sheet_facts(setup, final, proof, findings),
        picture=preview.picture(shown, skin, radians(job.blank.seam_deg)),
        difference=preview.difference_picture(proof, wanted, skin, radians(job.blank.seam_deg)),
    )


def _walks(setup: Setup, pieces: Sequence[Piece]) -> list[Callable[[], Path]]:
    """Walks round the pictures' frames, and, where those run into something, round what is cut; clear of all tools."""
    job, tool = setup.job, covering(setup.tools)

    def around(frame: Callable[[preview.Placed, Patch], tuple[Floats, Floats]]) -> Callable[[], Path]:
        return lambda: walk([frame(p.placed, p.patch) for p in pieces], setup.skin, tool, job.machine, job.keep_out)

    return [around(frame_on_skin), around(box_on_skin)]


def _wanted(job: Job, pieces: Sequence[Piece], tools: Sequence[Tool]) -> Wanted:
    """The depth asked for over all the art, as a plain field, and which of the tools are to cut it."""
    items = [piece.placed.item for piece in pieces]
    paces = [(item.feed_mm_min, item.plunge_mm_min) for item in items]
    masks = [sum(1 << k for k, tool in enumerate(tools) if tool in item.tools) for item in items]
    patches = [piece.patch for piece in pieces]
    return lay_wanted(patches, paces, rpms=[job.rpm(tool) for tool in tools], tools=masks)


def _touches(job: Job, skin: Skin, pieces: Sequence[Piece], tools: Sequence[Tool]) -> tuple[TouchOff, ...]:
    """Where to set the radial axis with each tool and where to check it, beside the art; the first sets its zero."""
    covers = [p.patch.x_mm for p in pieces] or [skin.x_range_mm]
    found: list[TouchOff] = []
    for tool in tools:

        def tip_r(x_mm: float, theta_rad: float, tool: Tool = tool) -> float:
            return float(tip_radius(skin, tool, np.array([x_mm]), np.array([theta_rad]), np.zeros(1))[0])

        found.append(
            touch_off(
                skin,
                job.machine,
                art_x_mm=(min(low for low, _ in covers), max(high for _, high in covers)),
                art_theta_rad=radians(job.items[0].placement.angle_deg) if job.items else 0.0,
                tip_r=tip_r,
                keep_out=job.keep_out,
                outer_mm=max(tool.outer_mm for tool in tools),
                zero_r_mm=found[0].zero_r_mm if found else None,
            )
        )
    return tuple(found)


def _moved(finding: Finding, shift: int) -> Finding:
    """The finding with its line number in a text whose header is `shift` lines longer."""
    if finding.where.line is None or not shift:
        return finding
    return replace(finding, where=replace(finding.where, line=finding.where.line + shift))
