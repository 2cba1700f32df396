"""The tools that a job's art is cut with: each name looked up, and the order in which they come into the spindle.

Takes the documents of art and tools and what the shop knows; gives tools by name, those that each piece of art uses,
and the order of use, with what is wrong: names that do not exist, and clearing that would bring a tool back twice.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol, runtime_checkable

from engine.job.artwork import ArtworkDocument, ToolDocument
from engine.job.reading import pointer, read
from engine.kernel.errors import Problem
from engine.kernel.values import Tool
from engine.marking import Style

__all__ = ["Tools", "first_tool", "in_order", "style_of", "tools_by_name", "tools_of", "unknown"]

Tools = tuple[Tool, Tool | None]  # of a piece of art: its own, and the one that clears before it


@runtime_checkable
class Cleared(Protocol):
    """The document of a marking that a clearing tool may prepare."""

    clearing_tool: str | None

    def value(self, tool: Tool, depth_mm: float, clearing: Tool | None = None) -> Style:
        """The style as the marking takes it."""


def first_tool(own: Sequence[ToolDocument]) -> str:
    """The tool of art that names none: the job's first, else the one built in."""
    return own[0].id if own else Tool().id


def tools_by_name(
    own: Sequence[ToolDocument], shop: Mapping[str, Mapping[str, Any]], artwork: Sequence[ArtworkDocument]
) -> tuple[dict[str, Tool], list[Problem]]:
    """Every tool that the art may name, and what is wrong with the names. The job's own stand over the shop's."""
    tools = {Tool().id: Tool()}
    tools |= {name: read(ToolDocument, {"id": name} | dict(value)).value() for name, value in shop.items()}
    problems: list[Problem] = []
    seen: set[str] = set()
    for k, tool in enumerate(own):
        if tool.id in seen:
            problems.append(Problem(pointer=pointer("tools", k, "id"), given=tool.id, allowed="each id once"))
        seen.add(tool.id)
        tools[tool.id] = tool.value()
    for k, item in enumerate(artwork):
        for place, name in (
            (pointer("artwork", k, "tool"), item.tool),
            (pointer("artwork", k, "marking", "clearing_tool"), _clearing(item)),
        ):
            if name is not None and name not in tools:
                problems.append(unknown(place, name, "tool", sorted(tools)))
    return tools, problems


def tools_of(item: ArtworkDocument, tools: Mapping[str, Tool], default: str) -> Tools:
    """A piece of art's own tool, and the one that clears before it."""
    clearing = _clearing(item)
    return tools[item.tool or default], None if clearing is None else tools[clearing]


def style_of(item: ArtworkDocument, used: Tools) -> Style:
    """The marking with its tools. MarkingError where they do not go together."""
    marking: object = item.marking
    if isinstance(marking, Cleared):
        return marking.value(used[0], item.depth_mm, used[1])
    return item.marking.value(used[0], item.depth_mm)


def in_order(used: Sequence[Tools]) -> tuple[tuple[Tool, ...], list[Problem]]:
    """Each tool once: one that clears before the one that it clears for, otherwise as the document names them."""
    waiting = list(dict.fromkeys(tool for own, clearing in used for tool in (clearing, own) if tool is not None))
    before = [(clearing, own) for own, clearing in used if clearing not in (None, own)]
    order: list[Tool] = []
    while waiting:
        free = [t for t in waiting if not any(own == t and clearing in waiting for clearing, own in before)]
        if not free:
            k = next(k for k, (own, clearing) in enumerate(used) if own in waiting and clearing in waiting)
            allowed = "a tool that has not itself to wait for this art's: each tool comes into the spindle once"
            given = (used[k][1] or used[k][0]).id
            return (), [
                Problem(pointer=pointer("artwork", k, "marking", "clearing_tool"), given=given, allowed=allowed)
            ]
        order.append(free[0])
        waiting.remove(free[0])
    return tuple(order), []


def unknown(place: str, name: str, what: str, names: Sequence[str]) -> Problem:
    """A name that the shop does not know."""
    return Problem(
        pointer=place, given=name[:40], allowed=f"a {what} of this shop: {', '.join(names[:8]) or 'none yet'}"
    )


def _clearing(item: ArtworkDocument) -> str | None:
    return item.marking.clearing_tool if isinstance(item.marking, Cleared) else None
