"""The blocks of a DXF file and what stands in each: lines, areas and further blocks, by layer.

The drawing itself is one more block, of no name. What is not drawn is noted with its kind.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from engine.artwork.dxf_hatch import loops_of
from engine.artwork.dxf_shapes import CORNERS, DRAWN, Row, corners, drawn, own_system
from engine.artwork.dxf_tags import Entity
from engine.artwork.dxf_text import TEXTS, Texts
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError, TooBigError

__all__ = ["ROOT", "Block", "Insert", "Runs", "read_blocks"]

ROOT = ""  # the name of the drawing itself
ANY = "0"  # the layer whose things go to the layer of the block that holds them
SILENT = ("SEQEND", "VERTEX", "VIEWPORT", "ATTDEF")


@dataclass(slots=True)
class Runs:
    """Runs of cubics. `areas` : of each run, the number of the area that it bounds; empty where they are lines."""

    rows: list[Row] = field(default_factory=list)
    begin: list[int] = field(default_factory=list)
    areas: list[int] = field(default_factory=list)

    def add(self, rows: Sequence[Row]) -> None:
        """One more run."""
        if rows:
            self.begin.append(len(self.rows))
            self.rows.extend(rows)

    def add_area(self, loops: Sequence[Sequence[Row]]) -> None:
        """One more area, bounded by loops."""
        number = self.areas[-1] + 1 if self.areas else 0
        for loop in filter(None, loops):
            self.add(loop)
            self.areas.append(number)


@dataclass(slots=True)
class Insert:
    """A block put into another at (k, 2, 3) places. name : in lower case; written : as the file has it."""

    name: str
    written: str
    layer: str
    places: Floats


@dataclass(slots=True)
class Block:
    """What a block holds by layer, and the blocks in it. `entities` counts what it holds itself."""

    lines: dict[str, Runs] = field(default_factory=dict)
    fills: dict[str, Runs] = field(default_factory=dict)
    inserts: list[Insert] = field(default_factory=list)
    entities: int = 0


def read_blocks(held: dict[str, list[Entity]], limits: Limits, notes: Notes) -> dict[str, Block]:
    """Every block by its name in small letters, the drawing itself under `ROOT`.

    Raises
    ------
    ArtworkError, TooBigError.
    """
    reader = _Reader(limits, notes)
    blocks: dict[str, Block] = {}
    bases: dict[str, tuple[float, float]] = {}
    for name, entities in _blocks(held.get("BLOCKS", []), bases):
        if not name.startswith(("*paper_space", "*model_space")):
            blocks[name] = reader.block(entities)
    blocks[ROOT] = reader.block(held["ENTITIES"])
    for block in blocks.values():
        for insert in block.inserts:
            x, y = bases.get(insert.name, (0.0, 0.0))
            insert.places[:, :, 2] -= insert.places[:, :, :2] @ np.array([x, y])
    return blocks


def _blocks(entities: list[Entity], bases: dict[str, tuple[float, float]]) -> Iterator[tuple[str, list[Entity]]]:
    name, begin = "", 0
    for k, entity in enumerate(entities):
        if entity.kind == "BLOCK":
            name, begin = entity.text(2).lower(), k + 1
            bases[name] = entity.point(10)[:2]
        elif entity.kind == "ENDBLK":
            yield name, entities[begin:k]


def _vertices(entities: Sequence[Entity], first: int) -> list[Entity]:
    """The vertices that stand one after the other from a place on."""
    last = first
    while last < len(entities) and entities[last].kind == "VERTEX":
        last += 1
    return list(entities[first:last])


class _Reader:
    """Reads the entities of one file's blocks; the copies of all its arrays are counted together."""

    def __init__(self, limits: Limits, notes: Notes) -> None:
        self._limits, self._notes = limits, notes
        self._texts = Texts(limits, notes)
        self._copies = self._rows = 0

    def block(self, entities: Sequence[Entity]) -> Block:
        """What stands in a block."""
        block, rows = Block(), 0
        for k, entity in enumerate(entities):
            if _is_left_out(entity, self._notes):
                continue
            block.entities += 1
            layer = entity.text(8, ANY)
            if entity.kind in DRAWN:
                self._note_width(entity)
                run = drawn(entity, _vertices(entities, k + 1) if entity.kind == "POLYLINE" else ())
                rows += len(run)
                self._note_empty(entity, len(run))
                block.lines.setdefault(layer, Runs()).add(run)
            elif entity.kind == "INSERT":
                block.inserts.append(self._insert(entity, layer))
            else:
                loops = self._loops(entity)
                count = sum(map(len, loops))
                rows += count
                if entity.kind == "HATCH":
                    self._note_empty(entity, count)
                block.fills.setdefault(layer, Runs()).add_area(loops)
            self._refuse_too_many(rows, entity)
        self._rows += rows
        return block

    def _note_empty(self, entity: Entity, pieces: int) -> None:
        if not pieces:
            self._notes.add("empty", f"{entity.kind} without any length is left out", entity.where)

    def _refuse_too_many(self, rows: int, entity: Entity) -> None:
        if self._rows + rows > self._limits.points:
            said = f"the drawing has over {self._limits.points:,} lines and pieces of curves"
            raise TooBigError(said, where=entity.where)

    def _loops(self, entity: Entity) -> list[list[Row]]:
        """The edges of what is filled; none of what is not read, which is noted."""
        if entity.kind in CORNERS:
            return [corners(entity)]
        if entity.kind in TEXTS:
            return self._texts.loops(entity)
        if entity.kind != "HATCH":
            self._notes.add("entity", f"{entity.kind[:30]} is not read", entity.where)
            return []
        if not entity.whole(70):
            self._notes.add("hatch", "the pattern of a hatch is not drawn: its region is filled", entity.where)
        return loops_of(entity)

    def _note_width(self, entity: Entity) -> None:
        polyline = entity.kind in ("LWPOLYLINE", "POLYLINE")
        if polyline and any(width > 0 for code in (40, 41, 43) for width in entity.numbers(code)):
            self._notes.add("width", "the width of a polyline is not used: its middle line is drawn", entity.where)

    def _insert(self, entity: Entity, layer: str) -> Insert:
        """Places of a block: moved to its point, turned, an array's steps, then scaled."""
        (x, y, z), turn = entity.point(10), math.radians(entity.number(50))
        columns, rows = (max(entity.whole(code, 1), 1) for code in (70, 71))
        self._copies += columns * rows
        if self._copies > self._limits.dxf_entities:
            raise TooBigError(f"blocks are inserted over {self._limits.dxf_entities:,} times", where=entity.where)
        steps = np.indices((columns, rows), np.float64).reshape(2, -1)
        steps = steps * np.array([[entity.number(44)], [entity.number(45)]])
        c, s = math.cos(turn), math.sin(turn)
        turned = np.array([[c, -s], [s, c]])
        places = np.zeros((steps.shape[1], 2, 3))
        places[:, :, :2] = turned * np.array([entity.number(41, 1.0), entity.number(42, 1.0)])
        places[:, :, 2] = (turned @ steps).T + np.array([x, y])
        if not np.isfinite(places).all():
            raise ArtworkError("INSERT: a number is not finite", where=entity.where)
        plane = own_system(entity, z)
        if plane is not None:
            places = plane[:, :2] @ places
            places[:, :, 2] += plane[:, 2]
        written = entity.text(2)
        return Insert(name=written.lower(), written=written, layer=layer, places=places)


def _is_left_out(entity: Entity, notes: Notes) -> bool:
    if entity.kind == "POINT":
        notes.add("point", "points are not drawn", entity.where)
    elif entity.whole(67):
        notes.add("paper", "what stands on a sheet of paper beside the drawing is not used", entity.where)
    elif entity.whole(60):
        notes.add("hidden", "hidden entities are not used", entity.where)
    else:
        return entity.kind in SILENT
    return True
