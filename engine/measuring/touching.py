"""Touching a blank with a probe: the program; from its log to a skin, to where a blank stands, to how it is held."""

from dataclasses import replace

import numpy as np

from engine.blank import Skin, sigma_at
from engine.job import BlankShape, machine_of, read_form
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_DEG
from engine.machine import Profile, ZZero
from engine.measure import Measured, Readings
from engine.measure.chucking import Moved, Registered, carried, corrected, register
from engine.measure.probing import ProbeLog, contacts, read_log, tip_corrected
from engine.measure.surface import fit_readings
from engine.measuring.answer import Answer, finding_list, skin_answer
from engine.measuring.documents import (
    CorrectDocument,
    LogDocument,
    ProbeLogDocument,
    ProbeProgramDocument,
    RechuckDocument,
    TurnProgramDocument,
)
from engine.measuring.held import judged, motion_facts, moved_job
from engine.measuring.skins import guess_of, keep_outs, measured_of
from engine.measuring.way import Around
from engine.outcome.cautions import HEADER_CAUTIONS
from engine.program import Probe, ProbeProgram, probe_program, turn_program

__all__ = ["corrected_by_touches", "found_again", "probing_program", "skin_of_log", "turning_program"]

TOUCH_OFF = ("/machine/touch_off", "state the touch-off place in the machine")
OWN_ZERO = ("/zero_r_mm", f"measure the radius there and give it, or {TOUCH_OFF[1]}")
PARK_MM = 20.0  # over the blank and the clearance: out of a photograph of the skin
ROUNDS = 2  # of finding where the ball touched on a skin that stands where the round before found it


def probing_program(asked: ProbeProgramDocument, around: Around) -> Answer:
    """The program that touches a blank at chosen stations and angles."""
    made = _program(asked, around)
    findings = [*_of_unknown_reach(asked.blank), *made.findings]
    value = {"findings": finding_list(findings), "points": len(made.x_mm), "time_s": round(made.time_s, 1)}
    return Answer(value=value, text=made.program.text.decode("ascii"))


def turning_program(asked: TurnProgramDocument, around: Around) -> Answer:
    """The program that turns from angle to angle and waits, the tool parked out of the picture."""
    machine, skin = machine_of(asked.machine, around.known), asked.blank.skin(around.assets)
    tops = [k.radius_mm or 0.0 for k in asked.blank.keep_out]
    clear = max(guess_of(skin, 0.0).greatest_mm, *tops, 0.0) + machine.clearance_mm
    if asked.park_r_mm is not None and asked.park_r_mm < clear:
        raise BlankError(
            f"{asked.park_r_mm:g} mm from the axis the tool would wait in the blank, in hardware or too near to them",
            where="/park_r_mm",
            hint=f"{clear:.1f} mm or more, or leave it out",
        )
    made = turn_program(
        asked.angles_deg,
        profile=machine,
        park_x_mm=skin.x_range_mm[0] if machine.park is None else machine.park.x_mm,
        park_r_mm=asked.park_r_mm or clear + PARK_MM,
        zero_r_mm=_zero_r_mm(machine, skin, TOUCH_OFF),
        dwell_s=None if asked.wait == "pause" else asked.wait,
        about=[("warning", finding.message) for finding in _of_unknown_reach(asked.blank)],
        cautions=HEADER_CAUTIONS,
    )
    findings = [*_of_unknown_reach(asked.blank), *made.findings]
    value = {"findings": finding_list(findings), "angles_deg": made.angle_deg.tolist(), "time_s": round(made.time_s, 1)}
    return Answer(value=value, text=made.program.text.decode("ascii"))


def skin_of_log(asked: ProbeLogDocument, around: Around) -> Answer:
    """A skin out of a log of touches; matched with the program's points where these are given."""
    said = [value is not None for value in (asked.blank, asked.stations, asked.angles)]
    if any(said) != all(said):
        raise BlankError(
            "the program's points follow from blank, stations and angles", where="/stations", hint="give all or none"
        )
    blank = asked.blank
    log = _log(asked, around, None if blank is None else blank.skin(around.assets), _points(asked, around))
    measured = fit_readings(log.centres)
    slopes = measured.skin().slopes
    touched = contacts(log.centres, slopes, tip_radius_mm=asked.tip_radius_mm)
    measured = fit_readings(touched, laid_out=log.centres)
    measured = _by_the_guess(measured.with_findings(log.findings), asked, around)
    return skin_answer(measured, form=log.form)


def found_again(asked: RechuckDocument, around: Around) -> Answer:
    """Where a blank stands that was put back, its skin there, and the job that moves with it.

    The job is null where the touches cannot tell how the blank moved: that is said, not guessed.
    """
    other = _other_blank(asked)
    skin = asked.blank.skin(around.assets)
    log = _log(asked, around, skin)
    held: Skin = skin
    found = register(skin, _touched(log, asked, held), turn_near_deg=asked.turn_near_deg)
    for _ in range(ROUNDS):
        held = Moved(skin=skin, motion=found.motion)
        found = register(skin, _touched(log, asked, held), turn_near_deg=asked.turn_near_deg)
    stored = measured_of(skin)
    standing = carried(stored, found.motion, covariance=found.covariance, x_mm=stored.x_mm + found.motion.shift_mm)
    standing = replace(
        standing,
        findings=(*found.findings, *log.findings, *other),
        how=found.how,
        readings=_touched(log, asked, held),
        residual_mm=found.residual_mm,
        used=found.used,
    )
    answer = skin_answer(standing, **motion_facts(found))
    job = moved_job(asked.job, answer.value["blank"], skin, found.motion) if asked.job and _sure(asked, found) else None
    return replace(answer, value={**answer.value, "job": job})


def corrected_by_touches(asked: CorrectDocument, around: Around) -> Answer:
    """A blank of a few readings, corrected by touches: how it is held, and more where they ask for it."""
    base = asked.blank.skin(around.assets)
    log = _log(asked, around, base)
    measured = judged(corrected(base, _touched(log, asked, base)), base)
    return skin_answer(measured.with_findings(log.findings), form=log.form)


def _other_blank(asked: RechuckDocument) -> list[Finding]:
    """What is to be told where the job lies on another description of the blank. JobError where it is no job."""
    if asked.job is None:
        return []
    beside = {*BlankShape.model_fields, "radius_error_mm"}
    own, put_back = (blank.model_dump(exclude=beside) for blank in (read_form(asked.job, at="/job").blank, asked.blank))
    if own == put_back:
        return []
    return [
        Finding(
            severity=Severity.WARNING,
            code="job-on-another-blank",
            message="the job was laid on another description of the blank than the skin that was found again",
            advice="look at where its art lies before cutting",
            where=Where(pointer="/job/blank"),
        )
    ]


def _of_unknown_reach(blank: BlankShape) -> list[Finding]:
    """Hardware that may stand higher than a program goes over it."""
    return [
        Finding(
            severity=Severity.WARNING,
            code="keep-out-reach",
            message=f"how far {k.words} reaches from the axis is not known: it may stand higher than the blank",
            advice="state the reach of the keep-out, and watch the first pass with a hand on the stop",
        )
        for k in keep_outs(blank)
        if k.radius_mm is None
    ]


def _by_the_guess(measured: Measured, asked: ProbeLogDocument, around: Around) -> Measured:
    """Where the radial zero was taken from the described blank, every radius is as unsure as that was."""
    machine = machine_of(asked.machine, around.known)
    if machine.z_zero is ZZero.AXIS or asked.zero_r_mm is not None or asked.blank is None or not machine.touch_off:
        return measured
    x, angle = machine.touch_off
    doubt = float(sigma_at(asked.blank.skin(around.assets), np.array([x]), np.radians([angle]))[0])
    finding = Finding(
        severity=Severity.WARNING,
        code="zero-by-guess",
        message=f"the radial zero is where the blank is described to be, known to {2 * doubt:.2g} mm (two standard "
        "deviations): every radius may be off by as much",
        advice="measure the radius at the touch-off place and give it (zero_r_mm)",
    )
    sigma = np.hypot(measured.sigma_mm, doubt)
    return replace(measured, sigma_mm=sigma).with_findings([finding])


def _sure(asked: RechuckDocument, found: Registered) -> bool:
    turn_told = found.turn_known or asked.turn_near_deg is not None
    fits = all(finding.code != "does-not-fit" for finding in found.findings)
    return found.shift_known and turn_told and len(found.turns_deg) < 2 and fits


def _program(asked: ProbeProgramDocument, around: Around) -> ProbeProgram:
    machine, skin = machine_of(asked.machine, around.known), asked.blank.skin(around.assets)
    angles = asked.angles
    if isinstance(angles, int):
        angles = tuple((np.arange(angles) * (TURN_DEG / angles)).tolist())
    return probe_program(
        asked.stations,
        angles,
        guess=guess_of(skin, asked.search_mm),
        probe=Probe(tip_radius_mm=asked.tip_radius_mm, search_mm=asked.search_mm, feed_mm_min=asked.feed_mm_min),
        profile=machine,
        keep_out=keep_outs(asked.blank),
        zero_r_mm=_zero_r_mm(machine, skin, TOUCH_OFF),
        fragile=asked.fragile,
        about=[("warning", finding.message) for finding in _of_unknown_reach(asked.blank)],
        cautions=HEADER_CAUTIONS,
    )


def _points(asked: ProbeLogDocument, around: Around) -> ProbeProgram | None:
    """The program that was written for the same words; None where they are not given."""
    if asked.blank is None or asked.stations is None or asked.angles is None:
        return None
    written = ProbeProgramDocument(
        blank=asked.blank,
        machine=asked.machine,
        tip_radius_mm=asked.tip_radius_mm,
        stations=asked.stations,
        angles=asked.angles,
        search_mm=asked.search_mm,
    )
    return _program(written, around)


def _log(asked: LogDocument, around: Around, skin: Skin | None, program: ProbeProgram | None = None) -> ProbeLog:
    machine = machine_of(asked.machine, around.known)
    return read_log(
        around.assets[asked.log],
        profile=machine,
        tip_radius_mm=asked.tip_radius_mm,
        unit=asked.unit,
        points=None if program is None else (program.x_mm, program.angle_deg),
        touches=1 if program is None else program.touches,
        zero_r_mm=_zero_r_mm(machine, skin, OWN_ZERO, asked.zero_r_mm),
    )


def _zero_r_mm(machine: Profile, skin: Skin | None, mend: tuple[str, str], said: float | None = None) -> float:
    """The radius from which the radial word counts. mend : where to say it, and what to do, where it is not told."""
    if machine.z_zero is ZZero.AXIS:
        return 0.0
    if said is not None:
        return said
    if machine.touch_off is None or skin is None:
        raise BlankError("this machine is zeroed on the skin, and where is not said", where=mend[0], hint=mend[1])
    x, angle = machine.touch_off
    return float(skin.radius(np.array([x]), np.radians([angle]))[0])


def _touched(log: ProbeLog, asked: LogDocument, skin: Skin) -> Readings:
    """Where the ball touched a skin that leans as `skin` does."""
    return tip_corrected(log.centres, skin.slopes, tip_radius_mm=asked.tip_radius_mm)
