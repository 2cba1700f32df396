"""Whether speed and feed lie where published tables say for the material: advice, where a table says anything.

Takes the text, the replay, the tool and the material's words; gives findings. Sources: surface speeds for high-speed
steel and carbide, and chip loads for a tool of about 3.2 mm cutting no deeper than its diameter, as a milling-machine
maker's manual and two vendors' like tables print them (starting points, REFERENCES section 5). Of shell, glass, bone
and gourd none was found: there nothing is said. Vc = pi D n, fz = vf / (n z): any machining handbook.
"""

import math
import re
from typing import NamedTuple

import numpy as np

from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Form, Kind, Tool
from engine.proof.depths import Cuts
from engine.proof.replay import Replay

__all__ = ["judge_cutting", "rpm_of"]

FOOT_MM, INCH_MM = 304.8, 25.4
LEAST_MM, MOST_MM = 2.0, 4.5  # tools that a table for about 3.2 mm speaks of
_COMMENT = re.compile(rb"\([^)\n]*\)|;[^\n]*")
_SPINDLE = re.compile(rb"S[ \t]*\+?(\d+\.?\d*)")


class _Row(NamedTuple):
    """words : by which a material is known. fastest : m/min, carbide. chip : mm a tooth, least and most, if any."""

    words: tuple[str, ...]
    fastest_m_min: float
    chip_mm: tuple[float, float] | None


def _sfm(feet: float) -> float:
    return feet * FOOT_MM / 1000.0


_ROWS = (
    _Row(("aluminium", "aluminum"), 2 * _sfm(300), (0.003 * INCH_MM, 0.004 * INCH_MM)),
    _Row(("brass", "bronze"), 2 * _sfm(150), None),
    _Row(("acrylic",), 2 * _sfm(800), (0.003 * INCH_MM, 0.005 * INCH_MM)),
    _Row(("plastic", "nylon", "acetal"), 2 * _sfm(800), (0.002 * INCH_MM, 0.006 * INCH_MM)),
    _Row(("pine", "spruce", "fir", "cedar", "softwood"), 2 * _sfm(500), (0.004 * INCH_MM, 0.006 * INCH_MM)),
    _Row(
        ("maple", "oak", "beech", "walnut", "cherry", "ash", "pear", "birch", "hardwood"),
        2 * _sfm(500),
        (0.003 * INCH_MM, 0.005 * INCH_MM),
    ),
    _Row(("wood",), 2 * _sfm(500), (0.003 * INCH_MM, 0.006 * INCH_MM)),
)


def rpm_of(text: bytes) -> float:
    """The greatest speed that a program asks of the spindle, rev/min; 0 where it states none."""
    plain = _COMMENT.sub(b"", text).upper()
    return max((float(found[1]) for found in _SPINDLE.finditer(plain)), default=0.0)


def judge_cutting(text: bytes, replay: Replay, cuts: Cuts, tool: Tool, material: str) -> list[Finding]:
    """`surface-speed` and `chip-load`, as advice."""
    said = set(re.findall(r"[a-z]+", material.lower()))
    row = next((row for row in _ROWS if said & set(row.words)), None)
    rpm, known = rpm_of(text), " and ".join(sorted(said & set(row.words))) if row else ""
    feed = replay.feed_mm_min()
    live = cuts.cuts & (replay.kind == Kind.CUT) & np.isfinite(feed)
    if row is None or rpm <= 0 or not live.any():
        return []
    found = []
    depth = float(cuts.depth_mm.max())
    width = tool.width_mm(depth)
    speed = math.pi * width * rpm / 1000.0
    if speed > row.fastest_m_min:
        most = 1000.0 * row.fastest_m_min / (math.pi * width)
        message = f"the rim runs at {speed:.0f} m/min; tables for {known} end at {row.fastest_m_min:.0f} (carbide)"
        found.append(_advice("surface-speed", message, f"at most {most:.0f} rev/min"))
    fits = row.chip_mm is not None and tool.form is not Form.CONE and LEAST_MM <= tool.diameter_mm <= MOST_MM
    if row.chip_mm is not None and fits and depth <= tool.diameter_mm:
        chip = float(feed[live].max()) / (rpm * tool.flutes)
        low, high = row.chip_mm
        told = f"{chip:.3f} mm a tooth; tables for {known} and tools of this size say {low:.3f} to {high:.3f}"
        if chip > high:
            slower = high * rpm * tool.flutes
            found.append(_advice("chip-load", told, f"at most {slower:.0f} mm/min at this speed, or more flutes"))
        elif chip < low:
            message, where = f"{told}: it may rub rather than cut", Where()
            found.append(Finding(severity=Severity.NOTE, code="chip-load", message=message, where=where))
    return found


def _advice(code: str, message: str, advice: str) -> Finding:
    return Finding(severity=Severity.WARNING, code=code, message=message, where=Where(), advice=advice)
