"""Results on disk by the digest of their input, the least used thrown out first. What does not match its sha-256 is no
result. The folder is emptied at the start: results are made again in a moment, and perhaps by newer code.
"""

import collections
import hashlib
import os
import shutil
import threading
import uuid
from pathlib import Path

from server.workers.handle import Result
from server.workers.wire import RESULT_BYTES, WireError, load_json, read_frame, write_frame

__all__ = ["Shelf"]


class Shelf:
    """Results as files. Only the server writes here, and only what it has checked. Safe from several threads."""

    def __init__(self, folder: Path, *, most_bytes: int = 512 << 20) -> None:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, mode=0o700)
        self._folder, self._most_bytes = folder, most_bytes
        self.unlike = 0  # how often the same input gave other bytes: must stay 0
        self._lock = threading.RLock()
        self._sizes: collections.OrderedDict[str, int] = collections.OrderedDict()

    def has(self, digest: str) -> bool:
        """Whether a result is filed. Cheap enough for an event loop; `get` proves the bytes when they are used."""
        with self._lock:
            return digest in self._sizes

    def get(self, digest: str) -> Result | None:
        """The result filed under the digest, its sha-256 proved anew, or None. Reads the whole file: for a thread."""
        if not self.has(digest):
            return None
        try:
            with self._path(digest).open("rb") as file:
                header, parts = read_frame(file, most_bytes=RESULT_BYTES) or ({}, {})
            if header.get("sha256") != _sha256(parts["json"], parts["npz"]):
                raise WireError("the stored bytes have changed")
            result = Result(value=load_json(parts["json"]), json=parts["json"], npz=parts["npz"])
        except (OSError, WireError, KeyError):
            self._drop(digest)
            return None
        with self._lock:
            if digest in self._sizes:
                self._sizes.move_to_end(digest)
        return result

    def put(self, digest: str, result: Result) -> None:
        """File a result: for a thread. Rename makes it whole or absent."""
        earlier = self.get(digest)
        if earlier is not None:
            self.unlike += (earlier.json, earlier.npz) != (result.json, result.npz)
            return
        part = self._folder / f"{uuid.uuid4().hex}.part"
        with part.open("wb") as file:
            sha256 = _sha256(result.json, result.npz)
            write_frame(file, {"kind": "result", "sha256": sha256}, {"json": result.json, "npz": result.npz})
        with self._lock:  # never held while bytes are read or written
            os.replace(part, self._path(digest))
            self._sizes[digest] = self._path(digest).stat().st_size
            while sum(self._sizes.values()) > self._most_bytes and len(self._sizes) > 1:
                self._drop(next(iter(self._sizes)))

    def _drop(self, digest: str) -> None:
        with self._lock:
            self._sizes.pop(digest, None)
            self._path(digest).unlink(missing_ok=True)

    def _path(self, digest: str) -> Path:
        return self._folder / f"{digest}.result"


def _sha256(json: bytes, npz: bytes) -> str:
    return hashlib.sha256(len(json).to_bytes(8, "little") + json + npz).hexdigest()
