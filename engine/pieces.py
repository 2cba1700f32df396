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

from engine.blank import Skin
from engine.job import Item, Job
from engine.kernel.arrays import Bools, Floats
from engine.kernel.errors import ReachError
from engine.kernel.findings import Finding
from engine.kernel.tolerance import Tolerance
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Tool
from engine.layout import Projection, stretch
from engine.marking import Marked, judge_lines
from engine.outcome import preview
from engine.outcome.art_raster import Patch
from engine.outcome.bent import looks_bent
from engine.outcome.faults import ART_FAULTS, about, fault, little_known, told_once, unused
from engine.outcome.idle import idle
from engine.outcome.overlapping import overlapping
from engine.placed import Lying, Placer
from engine.toolpath import Laid, Runs, begin_at, climb, cut, join_runs, lay

__all__ = ["Arrays", "Piece", "Tell", "drawn", "pieces_of", "runs_of", "tools_used", "unheeded"]

Arrays = Mapping[str, NDArray[Any]]
Tell = Callable[[str, float, Arrays | None], None]

ROUND = ("overlaps-itself", "looks-bent")  # what is told of a border round the blank, which is so on purpose
FILL_DRAWING = "fill them in the drawing (of a DXF file: take its closed lines as areas)"
FILL_TEXT = "take a face that has outlines"
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
    """Every piece of art that can be laid, copies and all, what was found about them, and what is wrong with others."""
    maker = _PieceMaker(job, skin, assets, tolerance)
    pieces, findings = [], []
    for k, item in enumerate(job.items):
        tell("artwork", 0.05 + 0.3 * k / len(job.items), None)
        try:
            piece, found = maker.piece(item)
        except ART_FAULTS as exc:
            findings.append((item, fault(exc, item)))
            continue
        pieces.append(piece)
        findings += [(item, finding) for finding in found]
    placed, patches = [piece.placed for piece in pieces], [piece.patch for piece in pieces]
    return pieces, [*told_once(findings), *overlapping(placed, patches)]


class _PieceMaker:
    """Makes the pieces of one job; copies that would be marked alike are marked once."""

    def __init__(self, job: Job, skin: Skin, assets: Mapping[str, bytes], tolerance: Tolerance) -> None:
        self._skin, self._tolerance = skin, tolerance
        self._placer, self._seam_rad = Placer(job, skin, assets), radians(job.blank.seam_deg)
        self._marked: dict[object, Marked] = {}
        self._bent: dict[object, tuple[Finding, ...]] = {}

    def piece(self, item: Item) -> tuple[Piece, list[Finding]]:
        """One piece of art: read or set, placed, laid out, marked, laid on the skin. Raises ART_FAULTS."""
        lying = self._placer.lying(item)
        item, layout = lying.item, lying.layout
        marked = self._mark(lying)
        laid = lay(marked.strokes, layout, depth_mm=item.depth_mm, tolerance=self._tolerance)
        laid = begin_at(laid, self._seam_rad)
        points = lying.drawing.places[:: max(1, len(lying.drawing.places) // MOST_STRETCH_POINTS)]
        least, greatest = stretch(layout, points)
        radius = _mean_radius(self._skin, item.placement.x_mm)
        sigma, unsure = little_known(self._skin, item, laid.x_mm, laid.theta_rad)
        placed = preview.Placed(item=item, drawing=lying.drawing, layout=layout, radius_mm=radius)
        piece = Piece(
            placed=placed,
            laid=laid,
            clears=marked.strokes.clears,
            patch=_patch(lying, laid, points),
            scale=(float(least.min()), float(greatest.max())),
            sigma_mm=sigma,
        )
        about_it = [about(finding, item) for finding in (*marked.findings, *self._looks_bent(lying, placed))]
        meant = [finding for finding in about_it if not _on_purpose(finding, item)]
        return piece, [*meant, *unsure, *unused(lying.art, item), *lying.findings]

    def _mark(self, lying: Lying) -> Marked:
        """The art's strokes; on a round skin copies beside each other have the same."""
        key = self._alike(lying)
        if key not in self._marked:
            item, drawing, layout = lying.item, lying.drawing, lying.layout
            marked, fill = item.style.mark(drawing, layout), FILL_DRAWING if item.text is None else FILL_TEXT
            lines = judge_lines(drawing, layout, item.style.shows, name=item.called, fill=fill)
            self._marked[key] = replace(marked, findings=(*marked.findings, *lines))
        return self._marked[key]

    def _looks_bent(self, lying: Lying, placed: preview.Placed) -> tuple[Finding, ...]:
        """What is told of bent lines; copies that are alike are looked at once, at the first."""
        key = self._alike(lying)
        if key not in self._bent:
            self._bent[key] = tuple(looks_bent(placed))
        return self._bent[key]

    def _alike(self, lying: Lying) -> object:
        """The same for pieces that differ by a turn of a round skin alone."""
        item, placement = lying.item, lying.item.placement
        alike = self._skin.is_round and placement.projection is not Projection.FROM_VIEW and item.text is None
        return (item.index, replace(placement, angle_deg=0.0)) if alike else item.piece_index


def _patch(lying: Lying, laid: Laid, points: Floats) -> Patch:
    """What the art asks of the skin. points : (n, 2) places that span it on the sheet."""
    item, layout, shows = lying.item, lying.layout, lying.item.style.shows
    x, theta = layout.wrap(points[layout.holds(points)])
    return Patch(
        drawing=lying.drawing,
        layout=layout,
        filled=shows.fills,
        ring_band=shows.draws_rings,
        depth=shows.depth,
        flank=item.tool.flank,
        shift_mm=shows.shift_mm,
        band_mm=item.tool.width_mm(item.depth_mm),
        depth_mm=item.depth_mm,
        x_mm=_span(np.concatenate([laid.x_mm, x]), item.placement.x_mm),
        theta_rad=_span(np.concatenate([laid.theta_rad, theta]), radians(item.placement.angle_deg)),
    )


def _on_purpose(finding: Finding, item: Item) -> bool:
    """Whether it tells of a border that it has lines, or of one round the blank that it meets itself or is round."""
    if item.border is None:
        return False
    return finding.code == "lines-cut-along" or (item.around is None and finding.code in ROUND)


def unheeded(job: Job, pieces: Sequence[Piece]) -> list[Finding]:
    """What is told of tools and settings that the job names and of which nothing comes."""
    cleared = {piece.placed.item.index for piece in pieces if piece.clears is not None and piece.clears.any()}
    return idle(job, {piece.placed.item.index for piece in pieces}, cleared)


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
    tolerance = replace(tolerance, chord_mm=min(tolerance.chord_mm, item.style.shows.chord_mm))
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
        art=item.piece_index,
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
    ring = np.linspace(0.0, TURN_RAD, 361)[:-1]
    return float(skin.radius(np.full(360, x_mm), ring).mean())
