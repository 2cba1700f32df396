"""Every figure and place of the server in one table, each with its reason; no other module keeps a figure of its own.

Sizes in bytes, times in seconds.
"""

from dataclasses import dataclass, field
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from server.workers.walls import Walls

__all__ = ["MIB", "Limits", "Settings", "own_version"]

MIB = 1 << 20


def own_version() -> str:
    """The installed package's version; `unpackaged` where the code runs from a bare folder."""
    try:
        return version("roundwright")
    except PackageNotFoundError:
        return "unpackaged"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one request may cost, and how much is kept."""

    json_bytes: int = 2 * MIB  # a job of 1,000 stations and 64 artworks is some 100 kB
    prove_bytes: int = 32 * MIB  # the body: a program of most size, its line ends escaped, and a job
    prove_characters: int = 24_000_000  # eight times a program of 22,000 strokes
    prove_lines: int = 660_000  # four times as many as its 163,000: 8 s of CPU and 650 MB at worst, measured
    upload_bytes: int = 50 * MIB + 65_536  # the largest file taken, and the multipart wrapping around it
    target_bytes: int = 2048  # path and query
    json_depth: int = 64  # as the engine takes
    json_text: int = 20_000  # one string; what is longer is a file
    body_s: float = 60.0  # last header to last byte of the body
    wait_s: float = 120.0  # the most that `Prefer: wait` is honoured for
    heartbeat_s: float = 15.0  # of an event stream that has nothing to say
    stored_bytes: int = 2048 * MIB  # all assets together
    jobs_listed: int = 1000
    library_entries: int = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where the server listens, where it keeps things, how many plans run at once.

    planner, looker : the functions of the workers that plan and of the one that looks at files, `module:function`.
    import_paths : put before the workers' own path.
    """

    data: Path
    host: str = "127.0.0.1"
    port: int = 8437
    planner: str = "server.workers.task:task"
    looker: str = "server.workers.look:task"
    import_paths: tuple[str, ...] = ()
    running: int | None = None  # of long work and of short alike; None: one less than the processors
    spares: int = 1  # takes a lost worker's place at once, and short work while long work runs (or the reverse)
    limits: Limits = field(default_factory=Limits)
    walls: Walls = field(default_factory=Walls)
