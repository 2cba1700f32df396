"""Where the program changes its tool: as often as the job has tools, clear of the work, with the spindle stopped, and
with a stop at which the new tool's zero is set.

Takes what the reader met; gives findings. Which tool comes is not to be read off a text: the order is the job's, and a
change is M6, or M0 where another T was called since the last (NISTIR 6556 3.6.1, 3.6.3).
"""

from collections.abc import Sequence

import numpy as np

from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.values import Tool
from engine.proof.rs274_interpreter import CHANGE, FIRST_TOOL, TURNING
from engine.proof.rs274_reader import Moves

__all__ = ["judge_changes"]

NEVER = np.iinfo(np.int64).max
STOPS = ("stop M0", "stop M60")  # M1 waits or not, by a switch


def judge_changes(moves: Moves, tools: Sequence[Tool], first: int) -> list[Finding]:
    """`tool-changes`, `changed-turning`, `changed-without-stop`; `tool-change` where the first one is fetched.

    tools : of the job, in order of use. first : the one that the program begins with.
    """
    changes = [line for line, what in moves.events if what == CHANGE]
    found = []
    wanted = len(tools) - 1 - first
    whole = moves.fault is None
    if len(changes) > wanted or (whole and len(changes) < wanted):
        line = changes[max(wanted, 0)] if len(changes) > wanted else None
        names = ", ".join(tool.id for tool in tools[first:])
        message = f"the program changes its tool {_times(len(changes))}, for {names} it has to {_times(wanted)}"
        advice = "take the program of the job as it is now, and change tools where it says so"
        found.append(_error("tool-changes", message, line, advice))
    turning = [line for line, what in moves.events if what == TURNING]
    if turning:
        message = f"the tool is changed while the spindle turns{_more(turning)}"
        found.append(_error("changed-turning", message, turning[0], "stop it with M5 before"))
    unset = _without_stop(moves, changes)
    if unset:
        message = f"after the tool is changed nothing waits for its zero to be set{_more(unset)}"
        found.append(_error("changed-without-stop", message, unset[0], "M0 after the change"))
    fetched = next((line for line, what in moves.events if what == FIRST_TOOL), None)
    if fetched is not None:
        message = f"the first tool is fetched by the program: it is taken to be {tools[first].id}"
        found.append(Finding(severity=Severity.WARNING, code="tool-change", message=message, where=Where(line=fetched)))
    return found


def _without_stop(moves: Moves, changes: Sequence[int]) -> list[int]:
    """The lines of changes at which the program does not wait, nor after them before anything moves."""
    at = np.array(changes, np.int64)
    stops = np.array([line for line, what in moves.events if what in STOPS], np.int64)
    stop = np.append(stops, NEVER)[np.searchsorted(stops, at)]
    moving = np.append(moves.line, NEVER)[np.searchsorted(moves.line, at, side="left")]
    return at[(stop != at) & (stop >= moving)].tolist()


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")


def _more(lines: Sequence[int]) -> str:
    return f" ({len(lines)} times in all)" if len(lines) > 1 else ""


def _error(code: str, message: str, line: int | None, advice: str) -> Finding:
    return Finding(severity=Severity.ERROR, code=code, message=message, where=Where(line=line), advice=advice)
