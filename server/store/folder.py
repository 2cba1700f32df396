"""The data folder, held by one server at a time.

The lock is the system's own on an open file: it ends with the process, however that ends, and workers do not inherit
it. Sources: flock(2); the Microsoft C run-time library's `_locking`.
"""

import os
import sys
from pathlib import Path

__all__ = ["Folder"]

NAME = "in-use.lock"  # empty; only the lock on it counts

if sys.platform == "win32":
    import msvcrt

    def _lock(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


class Folder:
    """The folder, made where it is missing, ours until `close`. Raises OSError where another server holds it."""

    def __init__(self, path: Path) -> None:
        path.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._descriptor = os.open(path / NAME, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _lock(self._descriptor)
        except (BlockingIOError, PermissionError):
            self.close()
            raise OSError(f"{path} is in use by another server: end that one, or name another folder") from None
        except OSError:
            self.close()
            raise

    def close(self) -> None:
        """Let the folder go."""
        os.close(self._descriptor)
