"""What the job says and nothing comes of, as notes at its own field: nothing is left out unsaid."""

from collections.abc import Collection, Iterator

from engine.job import Item, Job
from engine.kernel.findings import Finding, Severity, Where
from engine.marking import Depth

__all__ = ["idle"]


def idle(job: Job, laid: Collection[int], cleared: Collection[int]) -> list[Finding]:
    """`tool-unused`: a tool that no art names; `clears-nothing`: one that is to clear and finds no room;
    `setting-unused`: a number of the marking or the tone that the style as it is set has no use for.

    laid : the document's places of the art that lies on the skin; cleared : of that of which a clearing tool cuts some.
    """
    found = list(_tools(job)) if job.items else []
    for item in job.items:
        if item.copy or item.index not in laid:
            continue
        found += _settings(item, job.document["artwork"][item.index].get("marking", {}))
        if item.clearing is not None and item.index not in cleared:
            found.append(_clears_nothing(item, item.clearing.id))
    return found


def _tools(job: Job) -> Iterator[Finding]:
    named = {tool.id for item in job.items for tool in item.tools}
    for k, tool in enumerate(job.document.get("tools", ())):
        if tool["id"] not in named:
            message = f"no artwork is cut with {tool['id']}, which the job lists: it stays out of the program"
            yield _note("tool-unused", f"/tools/{k}", message, "name it as the tool of a piece of art, or take it out")


def _clears_nothing(item: Item, tool: str) -> Finding:
    why, more = f"no part has room for it beside what {item.tool.id} cuts", "take a narrower one, or larger art"
    if item.style.shows.depth is Depth.RELIEF:
        why, more = "no part is deeper than stock_mm", "ask a smaller stock_mm"
    return _note(
        "clears-nothing",
        f"/artwork/{item.index}/marking/clearing_tool",
        f"{tool} has nothing to clear in {item.called}: {why}",
        f"leave clearing_tool out, or {more}",
    )


def _settings(item: Item, marking: dict[str, object]) -> Iterator[Finding]:
    at = f"/artwork/{item.index}"
    lines = marking.get("lines", "straight")
    if marking.get("angle_deg") and lines != "straight":
        yield _unused(f"{at}/marking/angle_deg", item, f"its lines are {lines}", "leave it out, or take straight lines")
    roughed = marking.get("rough_step_mm") is not None or item.clearing is not None
    if "stock_mm" in marking and not roughed:
        yield _unused(f"{at}/marking/stock_mm", item, "nothing is roughed", "name a clearing_tool or a rough_step_mm")
    if item.tone is not None and item.tone.threshold is not None and item.style.shows.depth.wants_tone:
        why = "it is drawn by its light and dark, not parted in two"
        yield _unused(f"{at}/tone/threshold", item, why, "leave it out; levels and curve set what is light and dark")


def _unused(pointer: str, item: Item, why: str, advice: str) -> Finding:
    name = pointer.rsplit("/", 1)[1]
    return _note("setting-unused", pointer, f"{name} of {item.called} is not used: {why}", advice)


def _note(code: str, pointer: str, message: str, advice: str) -> Finding:
    return Finding(severity=Severity.NOTE, code=code, message=message, where=Where(pointer=pointer), advice=advice)
