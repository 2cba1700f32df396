"""The facts of the printable setup sheet, JSON-ready; how they are set on paper is the page's business."""

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from engine.blank import Skin
from engine.job import Item
from engine.kernel.findings import Finding, Severity
from engine.kernel.units import INCH_MM, TURN_RAD
from engine.kernel.values import Tool
from engine.machine import Profile
from engine.marking import STYLES
from engine.outcome.binding import made_for
from engine.outcome.programs import Setup, Written, tools_of
from engine.outcome.report import cautions, finding_facts
from engine.outcome.words import blank_words, clock
from engine.proof import Proof

__all__ = ["sheet_facts"]

PROFILE_POINTS = 121
PROFILE_ANGLES = 72


def sheet_facts(setup: Setup, written: Sequence[Written], proof: Proof, findings: Sequence[Finding]) -> dict[str, Any]:
    """Everything a person needs at the machine. written : the engraving, then what is given beside it."""
    job, engraving = setup.job, written[0]
    asked = max((item.depth_mm for item in job.items), default=0.0)
    return {
        "job": job.name,
        "blank": blank_words(job, setup.skin),
        "material": job.blank.material,
        "wall": _both(job.blank.wall_mm),
        "wall_min": _both(job.blank.wall_min_mm or None),
        "wall_left": _both(proof.made.wall_left_mm),
        "profile": _profile(setup.skin),
        "keep_out": [k.model_dump() | {"reach": _both(k.radius_mm)} for k in job.blank.keep_out],
        "art": [_art(item, job.items, setup.tools) for item in job.items if not item.copy],
        "extent": engraving.extent,
        "tools": [
            facts | _measures(tool) | {"time": clock(facts["time_s"])}
            for facts, tool in zip(tools_of(setup, engraving, proof), setup.tools, strict=True)
        ],
        "machine": _machine(job.machine),
        "touch_off": setup.touch.facts(),
        "depth": {"asked": _both(asked), "least": _both(proof.depth_mm[0]), "greatest": _both(proof.depth_mm[1])},
        "strokes": int(engraving.path.stroke.max()),
        "times": {one.kind: clock(one.times_s["total"]) for one in written},
        "made_for": made_for(job),
        "codes": {one.kind: one.program.check_code for one in written},
        "sha256": engraving.program.body_sha256,
        "findings": [_told(f, job.acknowledged) for f in findings if f.severity is not Severity.NOTE],
        "turn": {"first_deg": engraving.extent["angle_deg"][0], "last_deg": engraving.extent["angle_deg"][1]},
        "cautions": cautions(),
    }


def _profile(skin: Skin) -> dict[str, list[float]]:
    """The blank seen from the side: least and greatest radius at stations along it."""
    x = np.linspace(*skin.x_range_mm, PROFILE_POINTS)
    ring = np.linspace(0.0, TURN_RAD, PROFILE_ANGLES, endpoint=False)
    radii = skin.radius(x[:, None], ring[None, :])
    return {
        "x_mm": x.round(3).tolist(),
        "least_r_mm": radii.min(axis=1).round(3).tolist(),
        "greatest_r_mm": radii.max(axis=1).round(3).tolist(),
    }


def _art(item: Item, items: Sequence[Item], tools: Collection[Tool]) -> dict[str, Any]:
    """A piece of the document, with the places of all its copies. tools : those that cut anything."""
    return {
        "name": item.label,
        "places": [
            {"x_mm": round(one.placement.x_mm, 3), "angle_deg": round(one.placement.angle_deg, 3)}
            for one in items
            if one.index == item.index
        ],
        "style": next(name for name, style in STYLES.items() if style is type(item.style)),
        "feed_mm_min": item.feed_mm_min,
        "plunge_mm_min": round(item.plunge_mm_min, 2),
        "depth": _both(item.depth_mm),
        "tools": [tool.id for tool in item.tools if tool in tools],
    }


def _machine(machine: Profile) -> dict[str, Any]:
    return {
        "name": machine.name,
        "letters": dict(zip(("axial", "rotary", "radial"), machine.letters, strict=True)),
        "feed_rule": machine.feed_rule.value,
        "rotary_reversed": machine.rotary.reversed,
        "z_zero": machine.z_zero.value,
        "clearance_mm": machine.clearance_mm,
        "approach_mm": machine.approach_mm,
    }


def _measures(tool: Tool) -> dict[str, Any]:
    return {
        "form": tool.form.value,
        "diameter_mm": tool.diameter_mm,
        "tip_mm": tool.tip_mm,
        "angle_deg": tool.angle_deg,
        "stick_out": _both(tool.stick_out_mm),
    }


def _told(finding: Finding, acknowledged: Collection[str]) -> dict[str, Any]:
    """A finding, and whether a person has acknowledged it, by its mark or by its code at all; errors cannot be."""
    facts = finding_facts(finding)
    seen = finding.severity is Severity.WARNING and not {facts["code"], facts["mark"]}.isdisjoint(acknowledged)
    return facts | {"acknowledged": seen}


def _both(length_mm: float | None) -> dict[str, float] | None:
    """A length in both units, or nothing where there is none."""
    if length_mm is None:
        return None
    return {"mm": round(length_mm, 4), "inch": round(length_mm / INCH_MM, 5)}
