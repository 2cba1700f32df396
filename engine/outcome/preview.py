"""What the previews draw, as named arrays: the skin, the art and its wrapping, the strokes, the program, the carving.

Arrays are plain little-endian numbers, ready to be sent; the names are part of the page's contract.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.artwork import Drawing
from engine.blank import Skin
from engine.job import Item
from engine.kernel.arrays import Floats, Ints
from engine.kernel.ragged import offsets_of
from engine.kernel.values import Wanted
from engine.layout import Layout, distortion
from engine.outcome.picture import difference_png, opened, unwrapped_png
from engine.outcome.shading import once_round
from engine.proof import Carved, Proof

__all__ = [
    "META",
    "Arrays",
    "Placed",
    "art_arrays",
    "difference_picture",
    "meta_array",
    "picture",
    "proof_arrays",
    "skin_arrays",
    "stroke_arrays",
]

Arrays = Mapping[str, NDArray[Any]]
SKIN_STATIONS = 161
SKIN_ANGLES = 180
WRAP_NODES = 17
FLAT_MM = 1e-3
TONE_CELLS = 192  # a side of a picture as the page draws it under the strokes
MOST_CARVED = 600_000  # cells of the carving that are sent: 2.4 MB of float32; more are thinned
META = "meta"  # the early array that holds the facts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """One piece of art as it lies on its layout."""

    item: Item
    drawing: Drawing
    layout: Layout
    radius_mm: float

    def facts(self) -> Mapping[str, Any]:
        """JSON-ready facts of the placement, sizes as laid."""
        where = self.item.placement
        return {
            "index": self.item.index,
            "copy": self.item.copy,
            "number": self.item.piece_index,
            "name": self.item.label,
            "x_mm": where.x_mm,
            "angle_deg": where.angle_deg,
            "width_mm": self.drawing.width_mm,
            "height_mm": self.drawing.height_mm,
            "turn_deg": where.turn_deg,
            "mirror": where.mirror,
            "projection": where.projection.value,
            "r0_mm": self.radius_mm,
        }


def meta_array(meta: Mapping[str, Any]) -> dict[str, NDArray[Any]]:
    """The facts beside the arrays as JSON bytes in an array: what is told early travels as arrays alone."""
    return {META: np.frombuffer(json.dumps(meta).encode(), np.uint8)}


def skin_arrays(skin: Skin) -> dict[str, NDArray[Any]]:
    """skin_x (nx,), skin_theta (nt,) over [-pi, pi), skin_r (nx, nt): f4. Stations crowd towards the ends."""
    low, high = skin.x_range_mm
    x = low + (high - low) * 0.5 * (1.0 - np.cos(np.linspace(0.0, pi, SKIN_STATIONS)))
    theta = np.linspace(-pi, pi, SKIN_ANGLES, endpoint=False)
    r = skin.radius(x[:, None], theta[None, :])
    return {"skin_x": _f4(x), "skin_theta": _f4(theta), "skin_r": _f4(r)}


def art_arrays(placed: Sequence[Placed]) -> dict[str, NDArray[Any]]:
    """The placed art on the sheet, and for each piece how a grid over it wraps.

    Copies that share a drawing have it once: art_like (n,) says of each piece whose art is its own,
    art_open (m,) of each run whether it is a line and no region's edge.
    """
    drawings = [id(art.drawing) for art in placed]
    like = [drawings.index(drawing) for drawing in drawings]
    own = [(k, placed[k]) for k in sorted(set(like))]
    runs = [(k, part) for k, art in own for part in (art.drawing.rings, art.drawing.lines) if len(part)]
    points = [part.points for _, part in runs]
    sizes = [part.sizes for _, part in runs]
    offsets = offsets_of(np.concatenate(sizes)) if runs else np.zeros(1)
    arrays = {
        "art_like": np.array(like, "<u2"),
        "art_uv": _f4(np.concatenate(points) if runs else np.zeros((0, 2))),
        "art_offset": offsets.astype("<u4"),
        "art_open": np.concatenate([np.full(len(part), part is placed[k].drawing.lines) for k, part in runs]).astype(
            "u1"
        )
        if runs
        else _none("u1"),
        "art_item": np.concatenate([np.full(len(part), k) for k, part in runs]).astype("<u2") if runs else _none("<u2"),
    }
    grids = _wrap_grids(placed)
    return arrays | grids | _tones(placed, grids["wrap_u"], grids["wrap_v"])


def _wrap_grids(placed: Sequence[Placed]) -> dict[str, NDArray[Any]]:
    """wrap_u, wrap_v (n, 17) and, by [u][v], where each node lies: wrap_x, wrap_theta; and Tissot's ellipse there:
    stretch_greatest and stretch_least, mm on the skin for a mm on the sheet (0 where no skin is laid on), and
    stretch_rad, where the long axis points on the skin, counter-clockwise from +theta.
    """
    n = len(placed)
    u, v = np.zeros((n, WRAP_NODES)), np.zeros((n, WRAP_NODES))
    held = np.zeros((5, n, WRAP_NODES, WRAP_NODES))
    for k, art in enumerate(placed):
        low, high = art.drawing.places.min(axis=0), art.drawing.places.max(axis=0)
        room = np.where(high - low < FLAT_MM, 0.5 * art.drawing.height_mm, 0.0)  # a straight line has no box of its own
        low, high = low - room, high + room
        u[k], v[k] = np.linspace(low[0], high[0], WRAP_NODES), np.linspace(low[1], high[1], WRAP_NODES)
        uv = np.stack(np.meshgrid(u[k], v[k], indexing="ij"), axis=-1).reshape(-1, 2)
        held[:, k] = _laid(art, uv).reshape(5, WRAP_NODES, WRAP_NODES)
    names = ("wrap_x", "wrap_theta", "stretch_greatest", "stretch_least", "stretch_rad")
    return {"wrap_u": _f4(u), "wrap_v": _f4(v)} | {name: _f4(part) for name, part in zip(names, held, strict=True)}


def _laid(art: Placed, uv: Floats) -> Floats:
    """(5, n): x, theta, the greatest and least stretch and its way, at places (n, 2).

    Places beside the skin are laid on straight from the nearest one that is on it, or by the centre's own scale.
    """
    out = np.zeros((5, len(uv)))
    on = art.layout.holds(uv)
    if not on.any():
        x, theta = (
            art.item.placement.x_mm + uv[:, 1],
            np.radians(art.item.placement.angle_deg) + uv[:, 0] / art.radius_mm,
        )
        out[:2] = x, theta
        return out
    told = distortion(art.layout, uv[on])
    out[:, on] = *art.layout.wrap(uv[on]), told.greatest, told.least, told.skin_rad
    off = uv[~on][:, None, :] - uv[on][None, :, :]
    near = np.hypot(off[..., 0], off[..., 1]).argmin(axis=1)
    slopes = art.layout.jacobian(uv[on])[near]
    out[:2, ~on] = out[:2, on][:, near] + np.einsum("nij,nj->in", slopes, off[np.arange(len(near)), near])
    return out


def _tones(placed: Sequence[Placed], u: NDArray[Any], v: NDArray[Any]) -> dict[str, NDArray[Any]]:
    """The pictures that are read for their light and dark, over the boxes that the wrap grids (n, nodes) span.

    tone_item : (t,) which piece of art. tone_cells : (t, TONE_CELLS, TONE_CELLS) darkness, 0 to 255, row 0 at the top.
    """
    toned = [(k, art.drawing.darkness) for k, art in enumerate(placed) if art.drawing.darkness is not None]
    middles = (np.arange(TONE_CELLS) + 0.5) / TONE_CELLS
    cells = np.zeros((len(toned), TONE_CELLS, TONE_CELLS), np.uint8)
    for one, (k, darkness) in zip(cells, toned, strict=True):
        across, up = u[k, 0] + np.ptp(u[k]) * middles, v[k, -1] - np.ptp(v[k]) * middles
        uv = np.stack(np.meshgrid(across, up, indexing="xy"), axis=-1).reshape(-1, 2)
        one[:] = np.rint(255.0 * darkness.at(uv)).reshape(one.shape)
    return {"tone_item": np.array([k for k, _ in toned], "<u2"), "tone_cells": cells}


def stroke_arrays(
    x_mm: Floats, theta_rad: Floats, *, run_offsets: Ints, stroke_offsets: Ints, art: Ints
) -> dict[str, NDArray[Any]]:
    """The cut lines, each with its stroke's number, from 1, and its piece of art.

    x_mm, theta_rad : (n,) points. run_offsets : (m + 1,) points of each line. stroke_offsets : (k + 1,) lines of each
    stroke. art : (k,).
    """
    each = np.diff(stroke_offsets)
    return {
        "stroke_x": _f4(x_mm),
        "stroke_theta": _f4(theta_rad),
        "stroke_offset": run_offsets.astype("<u4"),
        "stroke_number": np.repeat(np.arange(1, len(each) + 1), each).astype("<u4"),
        "stroke_item": np.repeat(art, each).astype("<u2"),
    }


def proof_arrays(proof: Proof, shift: int) -> dict[str, NDArray[Any]]:
    """The program's own moves as the proof read them back, with times and lines, and the field that it carved.

    shift : lines by which the final text's header is longer than that of the text which was proven.
    """
    moves = proof.replay
    known, places = proof.pace.ends, proof.pace.places
    return {
        "move_x": _f4(places[:, 0]),
        "move_theta": _f4(moves.end[known, 1]),
        "move_r": _f4(places[:, 2]),
        "move_kind": moves.kind[known].astype("<u1"),
        "move_stroke": moves.stroke[known].astype("<u4"),
        "move_line": (moves.line[known] + shift).astype("<u4"),
        "move_end_s": _f4(proof.pace.end_s),
    } | _carved_arrays(proof.carved)


def _carved_arrays(carved: Carved) -> dict[str, NDArray[Any]]:
    """The carved field, thinned by the greatest of each block of cells until it is small enough to send."""
    step = max(1, int(np.ceil(np.sqrt(carved.depth_mm.size / MOST_CARVED))))
    nx, nt = (n // step * step for n in carved.depth_mm.shape)
    depth = carved.depth_mm[:nx, :nt]
    greatest = depth[::step, ::step].copy()
    for i in range(step):
        for j in range(step):
            np.maximum(greatest, depth[i::step, j::step], out=greatest)
    return {
        "carved_x": _f4(carved.x_mm[:nx].reshape(-1, step).mean(axis=1)),
        "carved_theta": _f4(carved.theta_rad[:nt].reshape(-1, step).mean(axis=1)),
        "carved_depth": _f4(greatest),
    }


def picture(arrays: Arrays, skin: Skin, seam_rad: float = pi) -> bytes:
    """PNG of the carved field that the previews draw, unwrapped, to scale on its middle circle.

    seam_rad : where a field that goes once round is opened.
    """
    x, theta = arrays["carved_x"].astype(np.float64), arrays["carved_theta"].astype(np.float64)
    dx, dt = (float(np.ptp(row)) / (len(row) - 1) for row in (x, theta))
    radius = skin.radius(np.append(x, x.mean()), np.full(len(x) + 1, theta.mean()))
    return unwrapped_png(
        opened(arrays["carved_depth"], theta, seam_rad),
        height_mm=dx * len(x),
        width_mm=dt * len(theta) * float(radius[-1]),
        around_mm=dt * radius[:-1],
        whole=once_round(theta),
    )


def difference_picture(proof: Proof, wanted: Wanted, skin: Skin, seam_rad: float = pi) -> bytes:
    """PNG of where the carving is what was asked and where not, unwrapped, to scale on the art's middle circle.

    seam_rad : where a field that goes once round is opened.
    """
    x, theta = wanted.x_mm, wanted.theta_rad
    radius = float(skin.radius(np.array([x.mean()]), np.array([theta.mean()]))[0])
    match = proof.match if proof.match is not None else np.zeros((len(x), len(theta)), np.uint8)
    match = opened(match, theta, seam_rad)
    return difference_png(match, height_mm=float(np.ptp(x)), width_mm=float(np.ptp(theta)) * radius)


def _f4(values: NDArray[Any]) -> NDArray[Any]:
    return np.ascontiguousarray(values, "<f4")


def _none(dtype: str) -> NDArray[Any]:
    return np.zeros(0, dtype)
