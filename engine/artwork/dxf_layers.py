"""The layers of a DXF file: which there are, and which are drawn."""

from collections.abc import Sequence
from dataclasses import dataclass

from engine.artwork.dxf_tags import Entity
from engine.kernel.errors import ArtworkError

__all__ = ["Layers"]

FROZEN = 1  # bit of group 70
NEVER_PLOTTED = "defpoints"  # by the format's own rule
MOST_TOLD = 8  # names that a message lists: longer ones are not read


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """names : as written, by their small letters. frozen, off : small letters. chosen : small letters; None is all that
    are neither frozen nor off. A layer that is chosen by its name is drawn even where the file has it off.
    """

    names: dict[str, str]
    frozen: frozenset[str]
    off: frozenset[str]
    chosen: frozenset[str] | None

    @classmethod
    def of(cls, tables: Sequence[Entity], used: Sequence[str], chosen: Sequence[str] | None) -> "Layers":
        """The layers of a file's tables and those that are used without standing there.

        Raises
        ------
        ArtworkError where one is chosen that does not exist.
        """
        entries = [entity for entity in tables if entity.kind == "LAYER"]
        stated = {entity.text(2).lower(): entity for entity in entries if entity.text(2)}
        names = {low: entity.text(2) for low, entity in stated.items()}
        for name in used:
            names.setdefault(name.lower(), name)
        for name in chosen or ():
            if name.strip().lower() not in names:
                there = ", ".join(sorted(names.values(), key=str.lower)[:MOST_TOLD])
                raise ArtworkError(
                    f"the drawing has no layer {name.strip()[:40]!r}", where="drawing/layers", hint=f"there is {there}"
                )
        return cls(
            names=names,
            frozen=frozenset(low for low, entity in stated.items() if entity.whole(70) & FROZEN),
            off=frozenset(low for low, entity in stated.items() if entity.whole(62, 7) < 0),
            chosen=None if chosen is None else frozenset(name.strip().lower() for name in chosen),
        )

    def why_not(self, layer: str) -> str:
        """Why what stands on a layer is not drawn; empty where it is."""
        low = layer.lower()
        if self.chosen is not None:
            return "" if low in self.chosen else "was not chosen"
        if low in self.frozen:
            return "is frozen"
        if low in self.off:
            return "is off"
        return "is never plotted" if low == NEVER_PLOTTED else ""

    def hides_blocks(self, layer: str) -> bool:
        """Whether a block that stands on a layer is left out with all it holds: only a frozen layer does that."""
        return self.chosen is None and layer.lower() in self.frozen
