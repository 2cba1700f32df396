"""How the tests ask a way of measuring: files by a short name, answers with the skin that a job would make of them."""

from hashlib import sha256

import engine
from engine.blank import read_grid

__all__ = ["ask", "problems", "skin_of"]


def ask(way, document, *, files=None, kinds=None):
    """What a way answers; files : bytes by the name that the document gives them."""
    files = files or {}
    known = engine.Known(
        assets={name: (kinds or {}).get(name) or engine.describe(data).kind for name, data in files.items()}
    )
    return engine.measure(way, document, files, known=known)


def problems(way, document, **known):
    """Pointers of what is wrong with a document, before any file is opened."""
    try:
        engine.check_measure(way, document, known=engine.Known(**known))
    except engine.JobError as exc:
        return {problem.pointer for problem in exc.problems}
    return set()


def skin_of(answer):
    """The skin of an answer's table, proved to be the one that the blank names."""
    assert answer.value["blank"] == {"shape": "grid", "asset": sha256(answer.table).hexdigest()}
    return read_grid(answer.table)
