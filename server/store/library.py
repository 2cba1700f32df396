"""The shop's own libraries: machines, tools and materials, each entry under its name, each on its own shelf."""

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from server.store.clock import now
from server.store.database import Database
from server.store.revision import Revision

__all__ = ["Entry", "Library"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Revision):
    """One entry of a library."""

    @property
    def value(self) -> dict[str, Any]:
        """What it says."""
        held: dict[str, Any] = json.loads(self.text)
        return held


class Library:
    """One shelf of the shop's libraries."""

    def __init__(self, database: Database, shelf: str) -> None:
        self._db, self._shelf = database, shelf

    def find(self, name: str) -> Entry | None:
        """The entry of a name, or None."""
        with self._db.reading() as db:
            row = db.execute("SELECT * FROM entry WHERE shelf = ? AND id = ?", (self._shelf, name)).fetchone()
        return _entry(row) if row else None

    def all(self) -> list[Entry]:
        """Every entry, by name."""
        with self._db.reading() as db:
            rows = db.execute("SELECT * FROM entry WHERE shelf = ? ORDER BY id", (self._shelf,)).fetchall()
        return [_entry(row) for row in rows]

    def create(self, name: str, value: Mapping[str, Any]) -> Entry | None:
        """A new entry; None where the name is taken."""
        entry = _next(name, 0, value)
        try:
            with self._db.writing() as db:
                db.execute("INSERT INTO entry VALUES (?, ?, ?, ?, ?)", (self._shelf, name, 1, entry.text, entry.at))
        except sqlite3.IntegrityError:
            return None
        return entry

    def save(self, name: str, value: Mapping[str, Any], *, etag: str) -> Entry | None:
        """Save over the revision of `etag`; None where another has been saved since. LookupError: no such entry."""
        with self._db.writing() as db:
            held = self._held(db, name)
            if held.etag != etag:
                return None
            entry = _next(name, held.revision, value)
            db.execute(
                "UPDATE entry SET revision = ?, document = ?, at = ? WHERE shelf = ? AND id = ?",
                (entry.revision, entry.text, entry.at, self._shelf, name),
            )
        return entry

    def delete(self, name: str, *, etag: str) -> bool:
        """Delete an entry; False where another revision has been saved since. LookupError: no such entry."""
        with self._db.writing() as db:
            if self._held(db, name).etag != etag:
                return False
            db.execute("DELETE FROM entry WHERE shelf = ? AND id = ?", (self._shelf, name))
        return True

    def _held(self, db: sqlite3.Connection, name: str) -> Entry:
        row = db.execute("SELECT * FROM entry WHERE shelf = ? AND id = ?", (self._shelf, name)).fetchone()
        if row is None:
            raise LookupError(name)
        return _entry(row)


def _next(name: str, revision: int, value: Mapping[str, Any]) -> Entry:
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    return Entry(id=name, revision=revision + 1, at=now(), text=text)


def _entry(row: Any) -> Entry:
    return Entry(id=row["id"], revision=row["revision"], at=row["at"], text=row["document"])
