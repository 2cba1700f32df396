"""`roundwright serve`: the page and its API on this machine."""

import asyncio
import ipaddress
import os
import socket
import sys
import webbrowser
from collections.abc import Callable
from importlib.resources import as_file, files
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from server.app import create_app
from server.job_file import JobFileError, in_one_line
from server.opening import open_job_file
from server.settings import Settings

__all__ = ["data_folder", "run", "uvicorn_config"]

CANNOT = 2


def run(*, host: str, port: int, data: Path | None, open_file: Path | None, browser: bool) -> int:
    """Serve until interrupted; gives the exit status."""
    if not _is_loopback(host):
        return _cannot(f"{host} is not this machine alone: only a loopback address (127.0.0.1) can be served so far")
    folder = data or data_folder()
    try:
        listening = _listen(host, port)
    except OSError as exc:
        return _cannot(f"{host}, port {port}: {exc.strerror}")
    settings = Settings(data=folder, host=host, port=listening.getsockname()[1])
    try:
        with listening:
            asyncio.run(_serve(settings, listening, open_file, browser=browser))
    except JobFileError as exc:
        return _cannot(str(exc))
    except OSError as exc:
        return _cannot(in_one_line(exc))
    except KeyboardInterrupt:
        return 0
    return 0


async def _serve(settings: Settings, listening: socket.socket, open_file: Path | None, *, browser: bool) -> None:
    app = create_app(settings)
    house = app.state.house
    try:
        house.open_job = _opened(open_file, lambda path: open_job_file(house, path))
    except BaseException:
        await house.close()
        raise
    server = uvicorn.Server(uvicorn_config(app))
    telling = asyncio.create_task(_tell_when_up(server, _address(settings), browser=browser))
    try:
        await server.serve(sockets=[listening])
    finally:
        telling.cancel()


def uvicorn_config(app: FastAPI) -> uvicorn.Config:
    """How the application is served: one process, the stricter of the two HTTP readers, nothing told of the server."""
    return uvicorn.Config(
        app,
        http="h11",
        ws="none",
        lifespan="on",
        access_log=False,
        log_level="warning",
        proxy_headers=False,
        server_header=False,
        timeout_keep_alive=65,
        timeout_graceful_shutdown=1,
    )


def _opened(open_file: Path | None, opening: Callable[[Path], str]) -> str | None:
    """Id of the job that the page opens with: the file's, else the first sample's, else none."""
    if open_file is not None:
        return opening(open_file)
    with as_file(files("sample_jobs")) as folder:
        samples = sorted(folder.glob("*/job.json"))
        return opening(samples[0]) if samples else None


async def _tell_when_up(server: uvicorn.Server, address: str, *, browser: bool) -> None:
    while not server.started:
        await asyncio.sleep(0.02)
    sys.stdout.write(f"Roundwright is at {address} (Ctrl+C ends it)\n")
    sys.stdout.flush()
    if browser:
        await asyncio.to_thread(webbrowser.open, address)


def _address(settings: Settings) -> str:
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return f"http://{host}:{settings.port}/"


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
    except OSError:
        listening.close()
        raise
    return listening


def data_folder() -> Path:
    """Where jobs and files are kept by default: the place that the system means for an application's data."""
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Roundwright"
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "Roundwright"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "roundwright"


def _cannot(words: str) -> int:
    sys.stderr.write(f"roundwright: {words}\n")
    return CANNOT
