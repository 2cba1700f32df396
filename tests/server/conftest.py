"""A running server for the tests: the real application, the stand-in at work in its workers."""

import asyncio
import contextlib
import socket
import threading
from pathlib import Path

import httpx
import pytest
import uvicorn

from server.app import create_app
from server.commands.serve import uvicorn_config
from server.settings import Settings
from server.workers.walls import Walls

ROOT = Path(__file__).resolve().parents[2]
STAND_IN = "tests.server.stand_in:task"
LOOKER = "tests.server.stand_in:look"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="12mm" height="8mm"><rect width="5" height="6"/></svg>'


def job(name="Seed-swap float", **change):
    """A job document that is good."""
    blank = {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90}
    return {"schema": "roundwright.job/1", "name": name, "blank": blank, **change}


@contextlib.contextmanager
def serving(settings):
    """The application of `settings` behind a real server on its own thread; gives it, started."""
    app = create_app(settings)
    server = uvicorn.Server(uvicorn_config(app))
    listening = socket.create_server(("127.0.0.1", settings.port))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=[listening])))
    thread.start()
    try:
        while not server.started and thread.is_alive():
            thread.join(0.01)
        yield app
    finally:
        server.should_exit = True
        thread.join(20)
        assert not thread.is_alive()


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return listening.getsockname()[1]


def settings_in(folder, **change):
    walls = Walls(wall_s=20.0, cpu_s=20, rss_bytes=600 << 20)
    given = {
        "data": folder,
        "port": free_port(),
        "planner": STAND_IN,
        "looker": LOOKER,
        "running": 1,
        "walls": walls,
        **change,
    }
    return Settings(import_paths=(str(ROOT),), **given)


@pytest.fixture(scope="session")
def app(tmp_path_factory):
    with serving(settings_in(tmp_path_factory.mktemp("data"), running=2)) as app:
        yield app


@pytest.fixture(scope="session")
def client(app):
    port = app.state.house.settings.port
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=30) as client:
        yield client


@pytest.fixture
def port(app):
    return app.state.house.settings.port


@pytest.fixture
def asset(client):
    return client.post("/api/assets", files={"file": ("leaf.svg", SVG)}).json()["id"]


def refused(port):
    try:
        socket.create_connection(("127.0.0.1", port), 5).close()
    except ConnectionRefusedError:
        return True
    return False
