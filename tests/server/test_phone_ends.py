"""The phone's door ends with the server that opened it."""

import re
import signal
import subprocess
import sys

import httpx

from tests.server.conftest import ROOT, refused, serving, settings_in


def test_it_closes_with_the_server(tmp_path):
    with serving(settings_in(tmp_path)) as app:
        address = f"http://127.0.0.1:{app.state.house.settings.port}/api/measure/phone"
        opened = httpx.post(address, json={"angles_deg": [0], "address": "127.0.0.1"}).json()
        port = int(opened["url"].split(":")[2].split("/")[0])
        assert not refused(port)
    assert refused(port)


def test_ctrl_c_ends_the_server_and_its_door(tmp_path):
    """On the command itself: the door's own listener leaves the process's signals to the server."""
    command = [sys.executable, "-m", "server.cli", "serve", "--port", "0", "--no-browser", "--data", str(tmp_path)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as server:
        try:
            main = re.search(r"http://127\.0\.0\.1:\d+", server.stdout.readline().decode())[0]
            for _ in range(2):  # the first is closed by the second
                given = {"angles_deg": [0], "address": "127.0.0.1"}
                opened = httpx.post(f"{main}/api/measure/phone", json=given, timeout=60).json()
            port = int(opened["url"].split(":")[2].split("/")[0])
            assert httpx.get(opened["url"]).status_code == 200
        finally:
            server.send_signal(signal.SIGINT)
        assert server.wait(30) == 0
    assert refused(port)
