"""From each piece of art to what lies on the skin, and on to the tip's runs.

Takes a `Job`, the skin and the bytes of the assets; gives `Piece`s and `Runs`, and findings beside them: what is wrong
with one piece of art withholds the program while the rest can still be looked at.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import radians
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.artwork import Drawing, read_artwork
from engine.artwork.lettering import Lettering, set_text
from engine.artwork.reading import left_over
from engine.blank import Skin
from engine.job import Item, Job
from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import ReachError
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.tolerance import Tolerance
from engine.kernel.values import Tool
from engine.layout import Layout, lay_out, place, stretch
from engine.layout.baseline import heights, stand
from engine.outcome import preview
from engine.outcome.art_raster import Patch
from engine.outcome.faults import ART_FAULTS, about, fault, little_known, unused
from engine.pictures import finest_mm
from engine.toolpath import Laid, Runs, climb, cut, join_runs, lay

__all__ = ["Arrays", "Piece", "Tell", "drawn", "pieces_of", "runs_of", "tools_used"]

Arrays = Mapping[str, NDArray[Any]]
Tell = Callable[[str, float, Arrays | None], None]

SAME_HEIGHT_MM = 0.02  # nobody sees less on a letter
MOST_STRETCH_POINTS = 20_000  # points of the art at which scale and cover are asked: more change no printed digit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One piece of art as it lies on the skin.

    clears : (k,) which strokes the item's clearing tool cuts; None where its own tool cuts all.
    scale : (least, greatest) mm on the skin for a mm on the sheet. sigma_mm : (least, greatest) standard deviation of
    the skin under it.
    """

    placed: preview.Placed
    laid: Laid
    clears: Bools | None
    patch: Patch
    scale: tuple[float, float]
    sigma_mm: tuple[float, float]

    def cut_by(self, tool: Tool) -> Bools:
        """(k,) which strokes the tool cuts."""
        item, all_of = self.placed.item, np.ones(len(self.laid), np.bool_)
        clears = ~all_of if self.clears is None or item.clearing is None else self.clears
        return (clears & (tool == item.clearing)) | (~clears & (tool == item.tool))


def pieces_of(
    job: Job, skin: Skin, assets: Mapping[str, bytes], tolerance: Tolerance, tell: Tell
) -> tuple[list[Piece], list[Finding]]:
    """Every piece of art that can be laid, what was found about them, and what is wrong with the others."""
    pieces, findings = [], []
    for k, item in enumerate(job.items):
        tell("artwork", 0.05 + 0.3 * k / len(job.items), None)
        try:
            piece, told = _piece(item, skin, assets, tolerance)
        except ART_FAULTS as exc:
            findings.append(fault(exc, item))
            continue
        pieces.append(piece)
        findings += told
    return pieces, findings


def _piece(item: Item, skin: Skin, assets: Mapping[str, bytes], tolerance: Tolerance) -> tuple[Piece, list[Finding]]:
    """One piece of art: read or set, placed, laid out, marked, laid on the skin."""
    shows = item.style.shows
    drawing, lettering = _drawing(item, assets)
    placed = place(drawing, item.placement)
    layout = lay_out(skin, item.placement)
    told: list[Finding] = []
    if lettering is not None:
        placed, told = _standing(placed, lettering, layout, item)
    marked = item.style.mark(placed, layout)
    laid = lay(marked.strokes, layout, depth_mm=item.depth_mm, tolerance=tolerance)
    points = placed.places[:: max(1, len(placed.places) // MOST_STRETCH_POINTS)]
    x, theta = layout.wrap(points[layout.holds(points)])
    patch = Patch(
        drawing=placed,
        layout=layout,
        filled=shows.fills,
        ring_band=shows.draws_rings,
        depth=shows.depth,
        flank=item.tool.flank,
        band_mm=item.tool.width_mm(item.depth_mm),
        depth_mm=item.depth_mm,
        x_mm=_span(np.concatenate([laid.x_mm, x]), item.placement.x_mm),
        theta_rad=_span(np.concatenate([laid.theta_rad, theta]), radians(item.placement.angle_deg)),
    )
    least, greatest = stretch(layout, points)
    shown = preview.Placed(item=item, drawing=placed, layout=layout, radius_mm=_mean_radius(skin, item.placement.x_mm))
    sigma, unsure = little_known(skin, item, laid.x_mm, laid.theta_rad)
    scale = float(least.min()), float(greatest.max())
    clears = marked.strokes.clears
    piece = Piece(placed=shown, laid=laid, clears=clears, patch=patch, scale=scale, sigma_mm=sigma)
    return piece, [*(about(finding, item) for finding in marked.findings), *unsure, *unused(drawing, item), *told]


def _drawing(item: Item, assets: Mapping[str, bytes]) -> tuple[Drawing, Lettering | None]:
    """What a file holds, or lettering as it is set."""
    if item.text is None:
        data = assets[item.asset or ""]
        read = read_artwork(
            data,
            tone=item.tone,
            toned=item.style.shows.depth.wants_tone,
            drawing=item.drawing,
            picture=item.picture,
            size_mm=(item.placement.width_mm, item.placement.height_mm),
            resolution_mm=finest_mm(item),
        )
        return read, None
    lettering = set_text(item.text, assets.get(item.text.font))
    drawing = lettering.drawing
    unread = left_over(item.tone, item.picture, item.drawing, is_picture=False, is_dxf=False)
    return replace(drawing, notes=(*drawing.notes, *unread)), lettering


def _standing(placed: Drawing, lettering: Lettering, layout: Layout, item: Item) -> tuple[Drawing, list[Finding]]:
    """The lettering true on the skin, or, where that is not asked, how tall the projection leaves its letters."""
    if item.text is not None and item.text.true_size:
        return stand(placed, lettering, layout, item.placement), []
    asked = lettering.capital_mm * placed.height_mm / lettering.drawing.height_mm
    worst = max(heights(placed, lettering, layout, item.placement), key=lambda tall: abs(tall - asked))
    if abs(worst - asked) <= SAME_HEIGHT_MM:
        return placed, []
    message = f"capitals of {asked:.3g} mm stand {worst:.3g} mm high on the skin where the projection changes them most"
    where = Where(pointer=f"/artwork/{item.index}/text")
    advice = "let true_size be true, or name no projection"
    return placed, [
        Finding(severity=Severity.NOTE, code="letters-off-size", message=message, where=where, advice=advice)
    ]


def tools_used(job: Job, pieces: Sequence[Piece]) -> tuple[Tool, ...]:
    """The job's tools that cut a stroke, in order of use; all of them where there is no stroke."""
    return tuple(tool for tool in job.tools if any(piece.cut_by(tool).any() for piece in pieces)) or job.tools


def runs_of(
    pieces: Sequence[Piece], tools: Sequence[Tool], skin: Skin, tolerance: Tolerance
) -> tuple[list[Runs], list[Finding]]:
    """The tip's runs of every piece with each tool, split to climb where asked; and where the tool cannot go."""
    legs, findings = [], []
    for tool in tools:
        runs = []
        for piece in pieces:
            try:
                runs.append(_runs(piece, tool, skin, tolerance))
            except ReachError as exc:
                findings.append(fault(exc, piece.placed.item))
        legs.append(join_runs(runs))
    return legs, findings


def _runs(piece: Piece, tool: Tool, skin: Skin, tolerance: Tolerance) -> Runs:
    """What of a piece a tool cuts."""
    item, laid = piece.placed.item, piece.laid.only(piece.cut_by(tool))
    if item.climbs:
        laid = climb(laid, skin, tolerance=replace(tolerance, level_mm=item.level_mm))
    return cut(
        laid,
        skin,
        tool,
        depth_mm=item.depth_mm,
        passes=item.passes,
        step_mm=item.step_mm,
        feed_mm_min=item.feed_mm_min,
        plunge_mm_min=item.plunge_mm_min,
        art=item.index,
        tolerance=tolerance,
    )


def drawn(runs: Runs) -> dict[str, NDArray[Any]]:
    """What the previews draw of the strokes."""
    return preview.stroke_arrays(
        runs.x_mm,
        runs.theta_rad,
        run_offsets=runs.run_offsets,
        stroke_offsets=runs.stroke_offsets,
        art=runs.art,
    )


def _span(values: Floats, middle: float) -> tuple[float, float]:
    """Least and greatest of the values; the middle where there are none."""
    return (float(values.min()), float(values.max())) if len(values) else (middle, middle)


def _mean_radius(skin: Skin, x_mm: float) -> float:
    ring = np.linspace(0.0, 2.0 * np.pi, 361)[:-1]
    return float(skin.radius(np.full(360, x_mm), ring).mean())
