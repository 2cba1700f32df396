"""The walls around one worker process, and what each operating system can build of them.

=====================  ============================  ===========================  ==========================
wall                   Linux                         macOS                        Windows
=====================  ============================  ===========================  ==========================
dies with the server   PDEATHSIG (kernel, at once)   lifeline thread (late while  lifeline thread (as macOS)
                       and the lifeline thread       native code holds the GIL)
memory                 RLIMIT_AS and the RSS watch   RSS watch, if psutil is in   RSS watch, if psutil is in
CPU time               RLIMIT_CPU and the watch      RLIMIT_CPU and the watch     watch, if psutil is in
wall time, cancel      SIGKILL to the group          SIGKILL to the group         TerminateProcess, no group
stopped worker seen    the watch (state T)           the watch, if psutil is in   the wall limit only
file size, open files  RLIMIT_FSIZE, RLIMIT_NOFILE   the same                     none
priority               nice                          nice                         below normal
first to be killed     oom_score_adj                 none                         none
no writing outside,    Landlock where the kernel     none                         none
exec, TCP, signals     has it (5.13; TCP 6.7,
                       signals 6.12)
=====================  ============================  ===========================  ==========================

`build` gives back which of them stand, each worker reports that when it is ready, and the supervisor's
`health` shows it: a wall that is missing is said, never silently skipped. Only the Linux column is tested.
"""

import ctypes
import importlib.util
import math
import os
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

__all__ = [
    "Look",
    "Walls",
    "allow_cpu",
    "build",
    "kill_group",
    "look",
    "shut_in",
    "start_options",
    "wait_unreaped",
    "worker_env",
]

LINUX = sys.platform.startswith("linux")
WINDOWS = os.name == "nt"
_RESOURCE: Any = importlib.import_module("resource") if importlib.util.find_spec("resource") else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """Limits for one plan (time) and one worker (the rest)."""

    wall_s: float = 180.0  # 36 photographs of 12 megapixels take 75 s on two busy processors, measured
    cpu_s: int = 120  # they take 40 s, and as many as are taken at once twice that
    rss_bytes: int = 1536 << 20  # they take 800 MB; two workers at their worst leave room on a machine of 4 GB
    address_bytes: int = 2 << 30  # the libraries' own mappings beside it
    file_bytes: int = 256 << 20  # as large as a result may be (`wire.RESULT_BYTES`)
    open_files: int = 64  # its pipes and what libraries hold open; chosen by trial
    nice: int = 10  # the page and the server come first


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One glance at a process: `stopped` by a signal, CPU seconds used since its start, resident bytes."""

    stopped: bool
    cpu_s: float
    rss_bytes: int


# ---- in the worker ---------------------------------------------------------------------------------------------


def build(walls: Walls, parent_pid: int) -> dict[str, str]:
    """Raise every wall this system has, before any parser is imported; gives {wall: "stands" | what is missing}."""
    stands = {"dies_with_server": _die_with(parent_pid)}
    if _RESOURCE is None:
        stands["rlimits"] = "none on this system: only the watch limits memory and CPU"
    else:
        missing = []
        asked = {"AS": walls.address_bytes, "FSIZE": walls.file_bytes, "NOFILE": walls.open_files, "CORE": 0}
        for name, limit in asked.items():
            try:
                _RESOURCE.setrlimit(getattr(_RESOURCE, f"RLIMIT_{name}"), (limit, limit))
            except (AttributeError, ValueError, OSError):  # macOS lacks AS; a lower hard limit may be in force already
                missing.append(name)
        stands["rlimits"] = f"without {', '.join(missing)}" if missing else "stands"
    stands["priority"] = _be_nice(walls.nice)
    return stands


def allow_cpu(seconds: int) -> None:
    """Give this process `seconds` of CPU from now on: a limit per plan although the process lives on."""
    if _RESOURCE is None:
        return
    hard = _RESOURCE.getrlimit(_RESOURCE.RLIMIT_CPU)[1]
    soft = math.ceil(time.process_time()) + seconds
    _RESOURCE.setrlimit(_RESOURCE.RLIMIT_CPU, (soft if hard == _RESOURCE.RLIM_INFINITY else min(soft, hard), hard))


def shut_in(folder: str) -> str:
    """After the warm-up, before any foreign byte: this thread and those it starts may write in `folder` alone, run no
    other program, open no TCP connection, and signal nothing outside. Reading stays open (late imports need it).

    Landlock, per kernel documentation "Landlock: unprivileged access control". Call it before the second thread.
    """
    if not LINUX:
        return "none on this system"
    libc = ctypes.CDLL(None, use_errno=True)
    create, add_rule, restrict = 444, 445, 446  # the same numbers on x86-64 and arm64
    abi = libc.syscall(create, None, ctypes.c_size_t(0), 1)
    if abi < 1:
        return "none: this kernel has no Landlock"
    write = sum(1 << bit for bit in (1, 4, 5, 6, 7, 8, 9, 10, 11, 12)) | (1 << 13) * (abi >= 2) | (1 << 14) * (abi >= 3)
    execute, tcp, scopes = 1 << 0, 0b11 * (abi >= 4), 0b11 * (abi >= 6)
    rules = struct.pack("<QQQ", write | execute, tcp, scopes)[: 8 if abi < 4 else 16 if abi < 6 else 24]
    ruleset = libc.syscall(create, rules, ctypes.c_size_t(len(rules)), 0)
    if ruleset < 0:
        return "none: refused"
    opened = [ruleset]
    try:
        for path, allowed in ((folder, write), (os.devnull, 1 << 1)):
            opened.append(os.open(path, getattr(os, "O_PATH", 0) | os.O_CLOEXEC))
            if libc.syscall(add_rule, ruleset, 1, struct.pack("<Qi", allowed, opened[-1]), 0) != 0:
                return "none: refused"
        if libc.syscall(restrict, ruleset, 0) != 0:
            return "none: refused"
    finally:
        for descriptor in opened:
            os.close(descriptor)
    return "stands" if abi >= 6 else f"stands in part (Landlock {abi})"


def _die_with(parent_pid: int) -> str:
    if not LINUX:
        return "lifeline only: a worker deep in native code may outlive the server until it returns"
    libc = ctypes.CDLL(None, use_errno=True)
    set_pdeathsig, set_no_new_privs = 1, 38
    if libc.prctl(set_pdeathsig, int(signal.SIGKILL), 0, 0, 0) != 0:
        return "lifeline only: prctl refused"
    if os.getppid() != parent_pid:  # the server died before the line above
        os._exit(0)
    libc.prctl(set_no_new_privs, 1, 0, 0, 0)
    try:
        with open("/proc/self/oom_score_adj", "w") as file:
            file.write("600")  # let the kernel take a worker, never the server
    except OSError:
        pass
    return "stands"


def _be_nice(nice: int) -> str:
    if WINDOWS:
        return "set by the server at the start"
    try:
        os.nice(nice)
    except OSError:
        return "refused"
    return "stands"


# ---- in the server ---------------------------------------------------------------------------------------------


def start_options() -> dict[str, Any]:
    """Popen options: a session of its own, so that Ctrl-C stays with the server and one kill takes the group."""
    if WINDOWS:
        flags = ("CREATE_NEW_PROCESS_GROUP", "CREATE_NO_WINDOW", "BELOW_NORMAL_PRIORITY_CLASS")
        return {"creationflags": sum(getattr(subprocess, flag) for flag in flags)}
    return {"start_new_session": True}


def worker_env(folder: Path, *, import_paths: tuple[str, ...], extra: Mapping[str, str]) -> dict[str, str]:
    """All that a worker may know of the world: its folder, where the code lies, and fixed settings."""
    env = {
        "PYTHONPATH": os.pathsep.join(import_paths),
        "PYTHONHASHSEED": "0",
        "PYTHONUTF8": "1",
        "LC_ALL": "C.UTF-8",
        "TZ": "UTC",
        "MALLOC_ARENA_MAX": "2",
        "HOME": str(folder),
        "TMPDIR": str(folder),
        "TEMP": str(folder),
        "TMP": str(folder),
    }
    for name in ("OMP", "OPENBLAS", "MKL", "NUMEXPR", "NUMBA"):
        env[f"{name}_NUM_THREADS"] = "1"
    for name in ("SYSTEMROOT", "LD_LIBRARY_PATH"):  # without these some interpreters do not start at all
        if name in os.environ:
            env[name] = os.environ[name]
    return {**env, **extra}


def kill_group(process: subprocess.Popen[bytes]) -> None:
    """SIGKILL to the worker and all that it started. Only for a process that is not reaped yet."""
    try:
        if WINDOWS:
            process.kill()
        else:
            os.killpg(process.pid, signal.SIGKILL)
    except (ProcessLookupError, PermissionError):  # gone already (macOS says EPERM for a dead group)
        pass


def wait_unreaped(process: subprocess.Popen[bytes]) -> None:
    """Block until the worker is dead, where possible without reaping it: its number cannot be reused meanwhile."""
    if hasattr(os, "waitid"):
        try:
            os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)
            return
        except ChildProcessError:
            pass
    process.wait()


def look(pid: int) -> Look | None:
    """A glance at a live process; None where it is gone or this system offers no way to look."""
    if LINUX:
        try:
            with open(f"/proc/{pid}/stat", "rb") as file:
                fields = file.read().rpartition(b")")[2].split()
        except OSError:
            return None
        return Look(
            stopped=fields[0] == b"T",
            cpu_s=(int(fields[11]) + int(fields[12])) / _TICKS,
            rss_bytes=int(fields[21]) * _PAGE,
        )
    try:
        psutil = importlib.import_module("psutil")
        process = psutil.Process(pid)
        used = process.cpu_times()
        return Look(
            stopped=process.status() == psutil.STATUS_STOPPED,
            cpu_s=used.user + used.system,
            rss_bytes=process.memory_info().rss,
        )
    except Exception:  # no psutil, or the process has just gone
        return None


_TICKS = os.sysconf("SC_CLK_TCK") if LINUX else 100
_PAGE = os.sysconf("SC_PAGE_SIZE") if LINUX else 4096
