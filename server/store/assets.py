"""Assets: bytes as they came, under their sha-256; the file is written and synced before the row that names it."""

import hashlib
import json
import os
import re
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.store.clock import now
from server.store.database import Database

__all__ = ["Asset", "Assets", "asset_id"]

_ID = re.compile(r"[0-9a-f]{64}\Z")


def asset_id(data: bytes) -> str:
    """The id of some bytes."""
    return hashlib.sha256(data).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asset:
    """What is known of an asset; `facts` are what its reader found (width, height, ...)."""

    id: str
    kind: str
    media_type: str
    bytes: int
    facts: Mapping[str, Any]

    def document(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"id": self.id, "kind": self.kind, "media_type": self.media_type, "bytes": self.bytes} | dict(self.facts)


class Assets:
    """The assets of one server. `most_bytes` of them in all."""

    def __init__(self, database: Database, folder: Path, *, most_bytes: int) -> None:
        self._db, self._folder, self._most_bytes = database, folder, most_bytes
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        for part in folder.glob("*.part"):  # what a killed server was writing
            part.unlink()

    def find(self, name: str) -> Asset | None:
        """The asset of an id, or None."""
        with self._db.reading() as db:
            row = db.execute("SELECT * FROM asset WHERE id = ?", (name,)).fetchone() if _ID.match(name) else None
        return _asset(row) if row else None

    def kinds(self, names: Iterable[str]) -> dict[str, str]:
        """Kind by id, of those ids that there are."""
        found = ((name, self.find(name)) for name in set(names))
        return {name: asset.kind for name, asset in sorted(found) if asset}

    def read(self, name: str) -> bytes:
        """An asset's bytes, proved against its id. LookupError where there is none; OSError where they have changed."""
        if self.find(name) is None:
            raise LookupError(name)
        data = self._path(name).read_bytes()
        if asset_id(data) != name:
            raise OSError("the stored bytes have changed")
        return data

    def add(self, data: bytes, *, kind: str, media_type: str, facts: Mapping[str, Any]) -> Asset:
        """Keep bytes; the same again changes nothing. OSError where there is no room."""
        asset = Asset(id=asset_id(data), kind=kind, media_type=media_type, bytes=len(data), facts=facts)
        held = self.find(asset.id)
        if held is not None and self._path(asset.id).is_file():
            return held
        with self._db.reading() as db:
            (total,) = db.execute("SELECT coalesce(sum(bytes), 0) FROM asset").fetchone()
        if total + len(data) > self._most_bytes:
            raise OSError("the assets have reached their limit")
        self._write(asset.id, data)
        with self._db.writing() as db:
            db.execute(
                "INSERT OR IGNORE INTO asset VALUES (?, ?, ?, ?, ?, ?)",
                (asset.id, kind, media_type, len(data), json.dumps(dict(facts), sort_keys=True), now()),
            )
        return asset

    def _write(self, name: str, data: bytes) -> None:
        part = self._folder / f"{uuid.uuid4().hex}.part"
        try:
            with part.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(part, self._path(name))
        finally:
            part.unlink(missing_ok=True)
        if os.name == "posix":
            folder = os.open(self._folder, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)

    def _path(self, name: str) -> Path:
        return self._folder / name


def _asset(row: Any) -> Asset:
    return Asset(
        id=row["id"],
        kind=row["kind"],
        media_type=row["media_type"],
        bytes=row["bytes"],
        facts=json.loads(row["facts"]),
    )
