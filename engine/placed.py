"""Art as it lies on its sheet and the sheet on the skin, before it is marked.

Takes a job's items; gives a `Lying` of each: a file read, words set or a border drawn, placed and laid out. Copies of
one piece are read once, and their drawing is one and the same value wherever it can be. Raises ART_FAULTS.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from engine.artwork import Drawing, read_artwork
from engine.artwork.border import Border, border_round, frame_round
from engine.artwork.lettering import Lettering, set_text
from engine.artwork.reading import left_over
from engine.blank import Skin
from engine.job import Item, Job
from engine.kernel.errors import LayoutError
from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout, lay_out, place
from engine.layout.baseline import heights, stand
from engine.outcome.faults import ART_FAULTS
from engine.outcome.meeting import girth_mm, judge_meeting, refuse_open_border
from engine.pictures import finest_mm

__all__ = ["Lying", "Placer"]

SAME_HEIGHT_MM = 0.02  # nobody sees less on a letter
SAME_PROPORTION = 0.01  # nor this share of its width


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lying:
    """A piece of art as it lies. item : with the width that its copies' meeting gave it; art : as it was read;
    drawing : as it is placed; findings : what was found on the way.
    """

    item: Item
    art: Drawing
    drawing: Drawing
    layout: Layout
    findings: tuple[Finding, ...] = ()


class Placer:
    """Lays the pieces of one job on their sheets and those on the skin; what copies share is made once."""

    def __init__(self, job: Job, skin: Skin, assets: Mapping[str, bytes]) -> None:
        self._skin, self._assets = skin, assets
        self._items = {(item.index, item.copy): item for item in job.items}
        self._read: dict[int, tuple[Drawing, Lettering | None]] = {}
        self._placed: dict[object, Drawing] = {}

    def lying(self, item: Item) -> Lying:
        """The art of one copy as it lies."""
        if item.border is not None:
            return self._border(item, item.border)
        if item.fits:
            width = girth_mm(self._skin, item.placement) / item.fits
            item = replace(item, placement=replace(item.placement, width_mm=width))
        if item.index not in self._read:
            self._read[item.index] = _drawing(item, self._assets)
        art, lettering = self._read[item.index]
        size = replace(item.placement, x_mm=0.0, angle_deg=0.0, eye=None)
        if (item.index, size) not in self._placed:
            self._placed[item.index, size] = place(art, item.placement)
        placed, found = self._placed[item.index, size], list[Finding]()
        layout = lay_out(self._skin, item.placement, placed)
        if lettering is not None:
            resized = _resized(placed, lettering, item)
            placed, found = _standing(placed, lettering, layout, item)
            found = resized + found
        if item.fits:
            found += judge_meeting(item, placed, layout)
        return Lying(item=item, art=art, drawing=placed, layout=layout, findings=tuple(found))

    def _border(self, item: Item, border: Border) -> Lying:
        """A border that goes once round the blank, or a frame round its piece of art."""
        if item.around is None:
            layout = lay_out(self._skin, item.placement)
            art = border_round(border, girth_mm(self._skin, item.placement))
            refuse_open_border(art, layout)
        else:
            try:
                inner = self.lying(self._items[item.around, item.copy])
            except ART_FAULTS as exc:
                raise LayoutError("the piece that it goes round cannot be laid", where="border/around") from exc
            layout, art = inner.layout, frame_round(border, inner.drawing.width_mm, inner.drawing.height_mm)
        art = _unread(art, item)
        return Lying(item=item, art=art, drawing=place(art, item.placement), layout=layout)


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
    return _unread(lettering.drawing, item), lettering


def _unread(art: Drawing, item: Item) -> Drawing:
    """Art that is no file, with a note of each thing that the item says of files."""
    unread = left_over(item.tone, item.picture, item.drawing, is_picture=False, is_dxf=False)
    return replace(art, notes=(*art.notes, *unread))


def _resized(placed: Drawing, lettering: Lettering, item: Item) -> list[Finding]:
    """`letters-resized`, a note: how tall capitals are where another field than size_mm says how large the text is."""
    drawn, asked = lettering.drawing, lettering.capital_mm
    tall = asked * placed.height_mm / drawn.height_mm
    if abs(tall - asked) <= SAME_HEIGHT_MM:
        return []
    size = item.placement
    given = ["placement.height_mm"] if size.height_mm is not None else []
    given += ["repeat.fit"] if item.fits else ["placement.width_mm"] if size.width_mm is not None else []
    message = f"{given[0]} says how large the text is: its capitals are {tall:.2f} mm high, size_mm asks for {asked:g}"
    wide = placed.width_mm / drawn.width_mm * asked / tall
    if abs(wide - 1.0) > SAME_PROPORTION:
        message += f"; its letters are {wide:.3g} times as wide as the face has them"
    if lettering.arc is not None:
        message += f"; its arc's radius is {abs(lettering.arc.radius_mm) * tall / asked:.4g} mm"
    where = Where(pointer=f"/artwork/{item.index}/text/size_mm")
    advice = f"leave {' and '.join(given)} out, and size_mm holds"
    return [Finding(severity=Severity.NOTE, code="letters-resized", message=message, where=where, advice=advice)]


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
