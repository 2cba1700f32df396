"""Blocks in blocks laid out flat: every run of every copy as cubics in the drawing's plane, by layer.

A block is looked at once for each layer that it can take, with all its places at once; the copies are never walked.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.artwork.dxf_blocks import ANY, ROOT, Block, Runs
from engine.artwork.dxf_layers import Layers
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import ArtworkError, TooBigError

__all__ = ["Laid", "lay_blocks", "used_layers"]

HERE = np.array([[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """m runs of n cubics in the drawing's units. control : (n, 4, 2). straight : (n,). begin : (m,) first cubic of each
    run. area : (m,) number of the area that a run bounds, or nothing for lines.
    """

    control: Floats
    straight: Bools
    begin: Ints
    area: Ints


def used_layers(blocks: Mapping[str, Block]) -> list[str]:
    """The layers on which something stands, sorted."""
    found = {name for block in blocks.values() for held in (block.lines, block.fills) for name in held}
    found |= {insert.layer for block in blocks.values() for insert in block.inserts}
    return sorted(found, key=lambda name: (name.lower(), name))


def lay_blocks(blocks: Mapping[str, Block], layers: Layers, limits: Limits, notes: Notes) -> tuple[Laid, Laid]:
    """The lines and the areas' edges that are drawn.

    Raises
    ------
    ArtworkError where a block holds itself; TooBigError where blocks in blocks make too much.
    """
    order = _Order(blocks, limits, notes).checked()
    places: dict[str, dict[str, list[Floats]]] = {ROOT: {ANY: [HERE]}}
    lines, fills = _Pile(limits), _Pile(limits)
    for name in order:
        block = blocks[name]
        for layer, parts in sorted(places.get(name, {}).items()):
            at = np.concatenate(parts)
            for pile, held in ((lines, block.lines), (fills, block.fills)):
                for own, runs in held.items():
                    shown = layer if own == ANY else own
                    why = layers.why_not(shown)
                    if why:
                        notes.add("layer", f"layer {layers.names.get(shown.lower(), shown)} {why}: it is left out")
                    else:
                        pile.add(runs, at)
            for insert in block.inserts:
                own = layer if insert.layer == ANY else insert.layer
                if layers.hides_blocks(own):
                    notes.add("layer", f"layer {layers.names.get(own.lower(), own)} is frozen: it is left out")
                elif insert.name in blocks:
                    places.setdefault(insert.name, {}).setdefault(own, []).append(_composed(at, insert.places))
    return lines.laid(), fills.laid()


def _composed(outer: Floats, inner: Floats) -> Floats:
    """(k * c, 2, 3) each of (c, 2, 3) places as seen from each of (k, 2, 3)."""
    turn = outer[:, None, :, :2] @ inner[None, :, :, :2]
    shift = outer[:, None, :, :2] @ inner[None, :, :, 2:] + outer[:, None, :, 2:]
    return np.concatenate([turn, shift], axis=3).reshape(-1, 2, 3)


class _Order:
    """Blocks with holders before held, after counting what they make when all copies are laid out."""

    def __init__(self, blocks: Mapping[str, Block], limits: Limits, notes: Notes) -> None:
        self._blocks, self._limits, self._notes = blocks, limits, notes
        self._made: dict[str, tuple[int, int]] = {}  # entities, levels
        self._open: set[str] = set()
        self._order: list[str] = []

    def checked(self) -> list[str]:
        self._count(ROOT)
        return self._order[::-1]

    def _count(self, name: str) -> tuple[int, int]:
        if name in self._made:
            return self._made[name]
        if name in self._open:
            raise ArtworkError(f"block {name[:40]} leads back to itself", where="BLOCKS")
        self._open.add(name)
        if len(self._open) > self._limits.dxf_depth + 1:
            raise TooBigError(f"blocks lie over {self._limits.dxf_depth} deep in blocks", where="BLOCKS")
        total, levels = self._blocks[name].entities, 0
        for insert in self._blocks[name].inserts:
            if insert.name not in self._blocks:
                self._notes.add("block", f"block {insert.written[:40]} is missing from the file")
                continue
            made, deep = self._count(insert.name)
            total, levels = total + len(insert.places) * max(made, 1), max(levels, deep + 1)
        if total > self._limits.dxf_entities:
            raise TooBigError(f"inserted blocks make over {self._limits.dxf_entities:,} entities", where="BLOCKS")
        if levels > self._limits.dxf_depth:
            raise TooBigError(f"blocks lie over {self._limits.dxf_depth} deep in blocks", where="BLOCKS")
        self._open.discard(name)
        self._made[name] = total, levels
        self._order.append(name)
        return total, levels


class _Pile:
    """Runs gathered with all their copies."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._parts: list[Laid] = []
        self._cubics = self._areas = 0

    def add(self, runs: Runs, places: Floats) -> None:
        n, copies = len(runs.rows), len(places)
        if not n:
            return
        self._cubics += n * copies
        areas = runs.areas[-1] + 1 if runs.areas else 0
        first_area, self._areas = self._areas, self._areas + areas * copies
        if self._cubics > self._limits.points:
            raise TooBigError(f"the drawing has over {self._limits.points:,} lines and pieces of curves", where="file")
        if self._areas > self._limits.dxf_areas:
            raise TooBigError(f"the drawing has over {self._limits.dxf_areas:,} filled regions", where="file")
        table = np.array(runs.rows)
        control = table[:, :8].reshape(n * 4, 2)
        placed = control @ places[:, :, :2].transpose(0, 2, 1) + places[:, None, :, 2]  # (copies, n * 4, 2)
        copy = np.arange(copies)[:, None]
        self._parts.append(
            Laid(
                control=placed.reshape(-1, 4, 2),
                straight=np.tile(table[:, 8] == 1.0, copies),
                begin=(np.array(runs.begin) + copy * n).ravel(),
                area=(np.array(runs.areas, np.int64) + first_area + copy * areas).ravel(),
            )
        )

    def laid(self) -> Laid:
        before = np.cumsum([0, *(len(part.control) for part in self._parts)])
        return Laid(
            control=np.concatenate([np.zeros((0, 4, 2)), *(part.control for part in self._parts)]),
            straight=np.concatenate([np.zeros(0, bool), *(part.straight for part in self._parts)]),
            begin=np.concatenate(
                [np.zeros(0, np.int64), *(p.begin + b for p, b in zip(self._parts, before[:-1], strict=True))]
            ),
            area=np.concatenate([np.zeros(0, np.int64), *(part.area for part in self._parts)]),
        )
