"""The ways of measuring by name, and the two doors to them: may this be asked, and what comes of it."""

from collections.abc import Mapping
from typing import Any

from engine.job import Known, missing_files, read
from engine.kernel.errors import JobError
from engine.measuring.answer import Answer
from engine.measuring.documents import OutlineDocument
from engine.measuring.edges import outline
from engine.measuring.way import Around, Way

__all__ = ["WAYS", "check_measure", "measure"]

WAYS: Mapping[str, Way[Any]] = {
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
