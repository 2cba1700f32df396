"""The ways of measuring by name, and the two doors to them: may this be asked, and what comes of it."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from engine.job import Known, missing_files, read
from engine.job.photographs import PhotographsDocument
from engine.job.scan import ScannedDocument
from engine.kernel.errors import BlankError, EngineError, JobError
from engine.measuring.answer import Answer
from engine.measuring.documents import (
    CallipersDocument,
    CorrectDocument,
    EndForEndDocument,
    GridTableDocument,
    LensDocument,
    OutlineDocument,
    OvoidFitDocument,
    ProbeLogDocument,
    ProbeProgramDocument,
    RechuckDocument,
    TurnProgramDocument,
)
from engine.measuring.edges import lens_of_cards, outline, skin_of_photographs
from engine.measuring.joined import joined_ends
from engine.measuring.read import egg_by_callipers, skin_of_table, stations_by_callipers
from engine.measuring.scanned import skin_of_scan
from engine.measuring.touching import (
    corrected_by_touches,
    found_again,
    probing_program,
    skin_of_log,
    turning_program,
)
from engine.measuring.way import Around, Way

__all__ = ["WAYS", "check_measure", "measure"]

WAYS: Mapping[str, Way[Any]] = {
    "callipers": Way(
        takes=CallipersDocument,
        makes=stations_by_callipers,
        about="A skin from calliper stations: a diameter each, or two at right angles.",
        measured="/stations",
    ),
    "correct": Way(
        takes=CorrectDocument,
        makes=corrected_by_touches,
        about="A blank of a few readings, corrected by touches: tilt, runout, and more where they ask for it.",
        measured="/log",
    ),
    "end-for-end": Way(
        takes=EndForEndDocument,
        makes=joined_ends,
        about="One skin out of two measurements of a blank that was turned end for end.",
        measured="/marks",
    ),
    "grid": Way(
        takes=GridTableDocument,
        makes=skin_of_table,
        about="A skin from any table of readings: named columns, cells missing or not.",
        measured="/asset",
    ),
    "lens": Way(
        takes=LensDocument,
        makes=lens_of_cards,
        about="How a camera's lens bends a picture, from photographs of the printed card.",
        measured="/photos",
    ),
    "ovoid": Way(
        takes=OvoidFitDocument,
        makes=egg_by_callipers,
        about="The four-reading egg nearest to calliper stations, with what it leaves.",
        measured="/stations",
    ),
    "scan": Way(
        takes=ScannedDocument,
        makes=skin_of_scan,
        about="A skin from a mesh: STL, OBJ or PLY, its axis found or given.",
        measured="/asset",
    ),
    "probe-program": Way(
        takes=ProbeProgramDocument,
        makes=probing_program,
        about="The program that touches a blank with a probe at chosen stations and angles, as text.",
        measured="/blank",
    ),
    "probe-log": Way(
        takes=ProbeLogDocument,
        makes=skin_of_log,
        about="A skin from the log of a controller that touched a blank.",
        measured="/log",
    ),
    "rechuck": Way(
        takes=RechuckDocument,
        makes=found_again,
        about="Where a blank stands that was put back, from touches and its stored skin; the job moves with it.",
        measured="/log",
    ),
    "silhouettes": Way(
        takes=PhotographsDocument,
        makes=skin_of_photographs,
        about="A skin from photographs of the blank turned by known angles; one is enough for a round one.",
        measured="/photos",
    ),
    "turn-program": Way(
        takes=TurnProgramDocument,
        makes=turning_program,
        about="The program that turns the rotary from angle to angle and waits, as text.",
        measured="/blank",
    ),
    "outline": Way(
        takes=OutlineDocument, makes=outline, about="The edge of the blank in one photograph.", measured="/photo"
    ),
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

    Raises JobError as `check_measure` does; another EngineError, its place a field of the document, where no skin or no
    program can be made of them.
    """
    check_measure(name, document, known=known)
    way = WAYS[name]
    try:
        return way.makes(read(way.takes, document), Around(assets=assets, known=known))
    except np.linalg.LinAlgError as exc:
        hint = "measure at more places"
        raise BlankError("what was measured does not determine a skin", where=way.measured, hint=hint) from exc
    except EngineError as exc:
        exc.where = _field(exc.where, document, way)
        raise


def _field(where: str, document: object, way: Way[Any]) -> str:
    """The field that a place lies in: what was measured for a place that is none of the document's (readings, the
    stations they span), and the word itself where a word stands for an object (the name of a stored machine).
    """
    if not where.startswith("/") or where.split("/")[1] not in way.takes.model_fields:
        return way.measured
    here, place = document, ""
    for part in where.split("/")[1:]:
        if not isinstance(here, Mapping | list | tuple):
            return place
        place += "/" + part
        here = here[int(part)] if isinstance(here, list | tuple) else here.get(part, {})
    return place
