"""Stored jobs: every save is a revision that is kept; a save says which revision it follows."""

import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from server.store.clock import now
from server.store.database import Database
from server.store.revision import Revision

__all__ = ["Jobs", "Saved"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved(Revision):
    """One revision of a job."""

    name: str

    def facts(self) -> dict[str, Any]:
        """What a list tells of it."""
        return {"id": self.id, "revision": self.revision, "name": self.name, "saved_at": self.at, "etag": self.etag}

    def document(self) -> dict[str, Any]:
        """JSON-ready, with the job itself."""
        return self.facts() | {"job": json.loads(self.text)}


_LATEST = """SELECT revision.* FROM job JOIN revision ON revision.job = job.id AND revision.revision = job.revision"""


class Jobs:
    """The stored jobs."""

    def __init__(self, database: Database) -> None:
        self._db = database

    def find(self, name: str, revision: int | None = None) -> Saved | None:
        """A job's latest revision, or the one asked for; None where there is none."""
        with self._db.reading() as db:
            if revision is None:
                row = db.execute(f"{_LATEST} WHERE job.id = ?", (name,)).fetchone()
            else:
                row = db.execute("SELECT * FROM revision WHERE job = ? AND revision = ?", (name, revision)).fetchone()
        return _saved(row) if row else None

    def by_origin(self, origin: str) -> Saved | None:
        """The job that was made from a file of these words, or None."""
        with self._db.reading() as db:
            row = db.execute(f"{_LATEST} WHERE job.origin = ?", (origin,)).fetchone()
        return _saved(row) if row else None

    def listed(self, most: int) -> list[Saved]:
        """The latest revisions, the last saved first."""
        with self._db.reading() as db:
            rows = db.execute(f"{_LATEST} ORDER BY job.at DESC, job.id LIMIT ?", (most,)).fetchall()
        return [_saved(row) for row in rows]

    def revisions(self, name: str) -> list[Saved]:
        """Every save of a job, the last first."""
        with self._db.reading() as db:
            rows = db.execute("SELECT * FROM revision WHERE job = ? ORDER BY revision DESC", (name,)).fetchall()
        return [_saved(row) for row in rows]

    def create(self, document: Mapping[str, Any], *, origin: str | None = None) -> Saved:
        """Store a new job."""
        saved = _next(uuid.uuid4().hex[:16], 0, document)
        with self._db.writing() as db:
            db.execute("INSERT INTO job VALUES (?, ?, ?, ?, ?)", (saved.id, 1, saved.name, saved.at, origin))
            _keep(db, saved)
        return saved

    def save(self, name: str, document: Mapping[str, Any], *, etag: str) -> Saved | None:
        """Save over the revision of `etag`; None, and nothing changes, where another has been saved since.

        LookupError where there is no such job.
        """
        with self._db.writing() as db:
            held = self._held(db, name)
            if held.etag != etag:
                return None
            saved = _next(name, held.revision, document)
            db.execute(
                "UPDATE job SET revision = ?, name = ?, at = ? WHERE id = ?",
                (saved.revision, saved.name, saved.at, name),
            )
            _keep(db, saved)
        return saved

    def delete(self, name: str, *, etag: str) -> bool:
        """Delete a job and its revisions; False where another revision has been saved since. LookupError as above."""
        with self._db.writing() as db:
            if self._held(db, name).etag != etag:
                return False
            db.execute("DELETE FROM job WHERE id = ?", (name,))
        return True

    @staticmethod
    def _held(db: Any, name: str) -> Saved:
        row = db.execute(f"{_LATEST} WHERE job.id = ?", (name,)).fetchone()
        if row is None:
            raise LookupError(name)
        return _saved(row)


def _next(name: str, revision: int, document: Mapping[str, Any]) -> Saved:
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    return Saved(id=name, revision=revision + 1, name=str(document["name"]), at=now(), text=text)


def _keep(db: Any, saved: Saved) -> None:
    db.execute(
        "INSERT INTO revision VALUES (?, ?, ?, ?, ?)", (saved.id, saved.revision, saved.name, saved.text, saved.at)
    )


def _saved(row: Any) -> Saved:
    return Saved(id=row["job"], revision=row["revision"], name=row["name"], at=row["at"], text=row["document"])
