"""A look at a job's photographs before anything is planned, and the card that tells what a tool and a material give.

Takes a `Job` and the bytes of its assets, or a photograph of a card that was cut; gives PNG bytes, or steps for a job's
`response`.
"""

from collections.abc import Mapping

from engine.artwork import Edits, Tone, measured_card, picture_preview, read_grey, tone_card
from engine.job import Document, Item, Job, PictureDocument, pointer
from engine.job.picture import rises
from engine.job.reading import Name
from engine.kernel.errors import ArtworkError, JobError, Problem

__all__ = ["CardDocument", "card_png", "finest_mm", "picture_shown", "read_card"]

_FIELDS = ("picture", "steps", "tone")  # that an error of a picture may name
FINEST_OF_WIDTH, FINEST_MM = 0.25, 0.02  # four pixels to the tool's width show all it can cut


class CardDocument(Document):
    """A photograph of a card of steps that was cut, upright and cropped to the card by its edits."""

    asset: Name
    picture: PictureDocument | None = None
    steps: int = 16


def finest_mm(item: Item) -> float:
    """How fine a picture's pixels need be, mm on the sheet, to show all that the tool can cut."""
    return max(FINEST_OF_WIDTH * item.tool.width_mm(item.depth_mm), FINEST_MM)


def picture_shown(job: Job, index: int, assets: Mapping[str, bytes]) -> bytes:
    """PNG of what the marking of a piece of art is given: its picture edited and toned, as fine as can be engraved.

    Raises
    ------
    JobError where there is no such piece, or it is no picture; ArtworkError where its bytes cannot be used.
    """
    item = next((item for item in job.items if item.index == index), None)
    if item is None or item.asset is None:
        raise JobError([Problem(pointer=pointer("artwork"), given=index, allowed="the number of a picture, from 0")])
    try:
        return picture_preview(
            assets[item.asset],
            item.picture or Edits(),
            item.tone or Tone(),
            size_mm=(item.placement.width_mm, item.placement.height_mm),
            resolution_mm=finest_mm(item),
            toned=item.style.shows.depth.wants_tone,
        )
    except ArtworkError as exc:
        raise _placed(exc, pointer("artwork", index)) from exc


def card_png(steps: int) -> bytes:
    """PNG of a card of `steps` patches from bare skin to all dark. ArtworkError for too few or too many."""
    return tone_card(steps).png


def read_card(document: CardDocument, assets: Mapping[str, bytes]) -> list[dict[str, float]]:
    """What each step of a card that was cut asked and gave, dark from 0 to 1.

    Raises
    ------
    ArtworkError where it cannot be read, or does not grow darker with what its steps ask.
    """
    edits = Edits() if document.picture is None else document.picture.value()
    try:
        steps = measured_card(read_grey(assets[document.asset], edits), document.steps)
    except ArtworkError as exc:
        raise _placed(exc, "") from exc
    if not rises(steps):
        raise ArtworkError(
            f"the picture does not grow darker along a card of {document.steps} steps",
            where=pointer("picture"),
            hint="crop it to the card and turn it upright, the bare skin on the left; are there so many steps?",
        )
    return [{"asked": round(asked, 4), "measured": round(measured, 4)} for asked, measured in steps]


def _placed(exc: ArtworkError, at: str) -> ArtworkError:
    """The same error with the pointer of its field, below `at`, where it names one."""
    named = exc.where.split("/")[0] in _FIELDS
    return type(exc)(exc.message, where=f"{at}/{exc.where}" if named else at + pointer("asset"), hint=exc.hint)
