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
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError, TooBigError

__all__ = ["ROOT", "Block", "Insert", "Runs", "read_blocks"]

ROOT = ""  # the name of the drawing itself
ANY = "0"  # the layer whose things go to the layer of the block that holds them
TEXTS = ("TEXT", "MTEXT", "ATTRIB", "ATTDEF", "ARCTEXT", "RTEXT")
SILENT = ("SEQEND", "VERTEX", "VIEWPORT", "POINT")
MOST_COPIES = 32_767  # rows or columns of an array of blocks: the greatest number that the group holds


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
        for loop in loops:
            self.add(loop)
            self.areas.append(number)


@dataclass(slots=True)
class Insert:
    """A block put into another at (k, 2, 3) places."""

    name: str
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
    blocks: dict[str, Block] = {}
    bases: dict[str, tuple[float, float]] = {}
    for name, entities in _blocks(held.get("BLOCKS", []), bases):
        if not name.startswith(("*paper_space", "*model_space")):
            blocks[name] = _block(entities, limits, notes)
    blocks[ROOT] = _block(held["ENTITIES"], limits, notes)
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


def _block(entities: Sequence[Entity], limits: Limits, notes: Notes) -> Block:
    block = Block()
    for k, entity in enumerate(entities):
        kind = entity.kind
        if kind in SILENT:
            if kind == "POINT":
                notes.add("point", "points are not drawn", entity.where)
            continue
        if entity.whole(67):
            notes.add("paper", "what stands on a sheet of paper beside the drawing is not used", entity.where)
            continue
        if entity.whole(60):
            notes.add("hidden", "hidden entities are not used", entity.where)
            continue
        block.entities += 1
        if block.entities > limits.dxf_entities:
            raise TooBigError(f"the drawing has over {limits.dxf_entities:,} entities", where=entity.where)
        layer = entity.text(8, ANY)
        if kind in DRAWN:
            following = _vertices_after(entities, k) if kind == "POLYLINE" else ()
            _widths(entity, notes)
            block.lines.setdefault(layer, Runs()).add(drawn(entity, following))
        elif kind in CORNERS:
            block.fills.setdefault(layer, Runs()).add_area([corners(entity)])
        elif kind == "HATCH":
            if not entity.whole(70):
                notes.add("hatch", "the pattern of a hatch is not drawn: its region is filled", entity.where)
            block.fills.setdefault(layer, Runs()).add_area(loops_of(entity))
        elif kind == "INSERT":
            block.inserts.append(_insert(entity, layer))
        else:
            _note_left_out(entity, notes)
    return block


def _vertices_after(entities: Sequence[Entity], k: int) -> list[Entity]:
    out = []
    for entity in entities[k + 1 :]:
        if entity.kind != "VERTEX":
            break
        out.append(entity)
    return out


def _widths(entity: Entity, notes: Notes) -> None:
    if entity.kind in ("LWPOLYLINE", "POLYLINE") and any(v > 0 for c in (40, 41, 43) for v in entity.numbers(c)):
        notes.add("width", "the width of a polyline is not used: its middle line is drawn", entity.where)


def _note_left_out(entity: Entity, notes: Notes) -> None:
    if entity.kind in TEXTS:
        notes.add("text", "text is not used: turn it into outlines", entity.where)
    else:
        notes.add("entity", f"{entity.kind[:30]} is not read", entity.where)


def _insert(entity: Entity, layer: str) -> Insert:
    """Places of a block: moved to its point, turned, an array's steps, then scaled."""
    (x, y, z), turn = entity.point(10), math.radians(entity.number(50))
    across, up = entity.number(41, 1.0), entity.number(42, 1.0)
    columns, rows = (min(max(entity.whole(code, 1), 1), MOST_COPIES) for code in (70, 71))
    if columns * rows > MOST_COPIES:
        raise TooBigError(f"INSERT: an array of {columns * rows:,} copies", where=entity.where)
    steps = np.indices((columns, rows), np.float64).reshape(2, -1) * np.array(
        [[entity.number(44)], [entity.number(45)]]
    )
    c, s = math.cos(turn), math.sin(turn)
    places = np.zeros((steps.shape[1], 2, 3))
    turned = np.array([[c, -s], [s, c]])
    places[:, :, :2] = turned * np.array([across, up])
    places[:, :, 2] = (turned @ steps).T + np.array([x, y])
    if not np.isfinite(places).all():
        raise ArtworkError("INSERT: a number is not finite", where=entity.where)
    plane = own_system(entity, z)
    if plane is not None:
        moved = plane[:, :2] @ places
        moved[:, :, 2] += plane[:, 2]
        places = moved
    return Insert(name=entity.text(2).lower(), layer=layer, places=places)
