"""The database: one file, one connection, one lock.

One connection only may write and checkpoint (SQLite up to 3.51.2 can damage a write-ahead log that two write at once),
and a shop's reads are short, so it reads too. `synchronous=FULL` syncs each commit before it is acknowledged.
"""

import sqlite3
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["Database"]

APPLICATION_ID = 0x52574B31  # "RWK1"
SCHEMA_VERSION = 1
_SCHEMA = """
CREATE TABLE asset (
    id TEXT PRIMARY KEY, kind TEXT NOT NULL, media_type TEXT NOT NULL, bytes INTEGER NOT NULL, facts TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;
CREATE TABLE job (
    id TEXT PRIMARY KEY, revision INTEGER NOT NULL, name TEXT NOT NULL, at TEXT NOT NULL, origin TEXT UNIQUE
) STRICT;
CREATE TABLE revision (
    job TEXT NOT NULL REFERENCES job (id) ON DELETE CASCADE, revision INTEGER NOT NULL, name TEXT NOT NULL,
    document TEXT NOT NULL, at TEXT NOT NULL, PRIMARY KEY (job, revision)
) STRICT;
CREATE TABLE entry (
    shelf TEXT NOT NULL, id TEXT NOT NULL, revision INTEGER NOT NULL, document TEXT NOT NULL, at TEXT NOT NULL,
    PRIMARY KEY (shelf, id)
) STRICT;
"""
_PRAGMAS = {
    "journal_mode": "wal",
    "synchronous": 2,
    "foreign_keys": 1,
    "busy_timeout": 5000,
    "journal_size_limit": 64 << 20,
    "trusted_schema": 0,
    "cell_size_check": 1,
    "mmap_size": 0,
}


class Database:
    """The open database. Raises OSError where the file is not ours, newer than we know, damaged, or in use."""

    def __init__(self, path: Path) -> None:
        self._lock = threading.Lock()
        self._db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        self._db.row_factory = sqlite3.Row
        try:
            self._open()
        except sqlite3.DatabaseError as exc:
            self._db.close()
            raise OSError(f"{path.name} cannot be used as the database: {exc}") from exc
        except OSError:
            self._db.close()
            raise

    def _open(self) -> None:
        db = self._db
        (application,) = db.execute("PRAGMA application_id").fetchone()
        (version,) = db.execute("PRAGMA user_version").fetchone()
        (tables,) = db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        if tables and application != APPLICATION_ID:
            raise OSError("this database belongs to another program")
        if version > SCHEMA_VERSION:
            raise OSError("this database was written by a newer version")
        for name, value in _PRAGMAS.items():
            db.execute(f"PRAGMA {name}={value}")
            (held,) = db.execute(f"PRAGMA {name}").fetchone()
            if held != value:
                raise OSError(f"the database does not take {name}={value} (a network folder?)")
        if sys.platform == "darwin":  # plain fsync does not reach the platter there
            db.execute("PRAGMA fullfsync=1")
            db.execute("PRAGMA checkpoint_fullfsync=1")
        if not tables:
            db.executescript(
                f"BEGIN IMMEDIATE; PRAGMA application_id={APPLICATION_ID}; PRAGMA user_version={SCHEMA_VERSION};"
                f"{_SCHEMA} COMMIT;"
            )
        (check,) = db.execute("PRAGMA quick_check(1)").fetchone()
        if check != "ok":
            raise OSError("the database is damaged")

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection for a few reads that belong together."""
        with self._lock:
            yield self._db

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """The connection inside one transaction: all of it is kept, and synced, or none."""
        with self._lock:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            finally:
                if self._db.in_transaction:  # a full disk has undone it already
                    self._db.execute("ROLLBACK")

    def close(self) -> None:
        """Close; the write-ahead log is folded in."""
        with self._lock:
            self._db.close()
