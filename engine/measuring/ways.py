"""The ways of measuring by name, and the two doors to them: may this be asked, and what comes of it."""

from collections.abc import Mapping
from typing import Any

from engine.job import Known, missing_files, read
from engine.job.scan import ScannedDocument
from engine.kernel.errors import JobError
from engine.measuring.answer import Answer
from engine.measuring.documents import (
    CallipersDocument,
    EndForEndDocument,
    LensDocument,
    OutlineDocument,
    OvoidFitDocument,
)
from engine.measuring.edges import lens_of_cards, outline
from engine.measuring.joined import joined_ends
from engine.measuring.read import egg_by_callipers, stations_by_callipers
from engine.measuring.scanned import skin_of_scan
from engine.measuring.way import Around, Way

__all__ = ["WAYS", "check_measure", "measure"]

WAYS: Mapping[str, Way[Any]] = {
    "callipers": Way(
        takes=CallipersDocument,
        makes=stations_by_callipers,
        about="A skin from calliper stations: a diameter each, or two at right angles.",
    ),
    "end-for-end": Way(
        takes=EndForEndDocument,
        makes=joined_ends,
        about="One skin out of two measurements of a blank that was turned end for end.",
    ),
    "lens": Way(
        takes=LensDocument,
        makes=lens_of_cards,
        about="How a camera's lens bends a picture, from photographs of the printed card.",
    ),
    "ovoid": Way(
        takes=OvoidFitDocument,
        makes=egg_by_callipers,
        about="The four-reading egg nearest to calliper stations, with what it leaves.",
    ),
    "scan": Way(
        takes=ScannedDocument, makes=skin_of_scan, about="A skin from a mesh: STL, OBJ or PLY, its axis found or given."
    ),
    "outline": Way(takes=OutlineDocument, makes=outline, about="The edge of the blank in one photograph."),
}


def check_measure(name: str, document: object, *, known: Known) -> None:
    """Refuse what cannot be asked, before any file is opened.

    Raises JobError with every fault of the document, and each file that is not there or of another kind.
    """
    asked = read(WAYS[name].takes, document)
    problems = missing_files(asked.needed(), known.assets, at="")
    if problems:
        raise JobError(problems)


def measure(name: str, document: object, assets: Mapping[str, bytes], *, known: Known) -> Answer:
    """What a way makes of a document and the files that it names, by id.

    Raises JobError as `check_measure` does; another EngineError, with the place in the document, where no skin or no
    program can be made of them.
    """
    check_measure(name, document, known=known)
    way = WAYS[name]
    return way.makes(read(way.takes, document), Around(assets=assets, known=known))
