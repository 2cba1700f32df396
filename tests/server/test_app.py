"""The server as a whole: what outlives it, what it does when the disk is full, and how long it waits for a body."""

import socket

import httpx

from server.settings import Limits
from tests.server.conftest import SVG, job, serving, settings_in


def client_of(app):
    return httpx.Client(base_url=f"http://127.0.0.1:{app.state.house.settings.port}", timeout=30)


def test_what_was_saved_outlives_the_server(tmp_path):
    with serving(settings_in(tmp_path)) as app, client_of(app) as client:
        asset = client.post("/api/assets", files={"file": ("leaf.svg", SVG)}).json()["id"]
        stored = client.post("/api/jobs", json=job("kept")).json()
        plan = client.post("/api/plan", json=job("kept"), headers={"Prefer": "wait=20"}).json()
        assert plan["state"] == "done"
    with serving(settings_in(tmp_path)) as app, client_of(app) as client:
        assert client.get(f"/api/assets/{asset}").content == SVG
        assert client.get(f"/api/jobs/{stored['id']}").json() == stored
        assert client.get(f"/api/plans/{plan['id']}").status_code == 404
    assert not (tmp_path / "planners" / "rooms").exists()


def test_a_full_disk_is_told_and_heals(tmp_path):
    with serving(settings_in(tmp_path)) as app, client_of(app) as client:
        with app.state.house.database.reading() as db:
            (pages,) = db.execute("PRAGMA page_count").fetchone()
            db.execute(f"PRAGMA max_page_count={pages}")
        answer = client.post("/api/jobs", json=job("x" * 80, blank={**job()["blank"], "material": "y" * 200}))
        codes = [answer.status_code]
        while codes[-1] == 201 and len(codes) < 100:
            codes.append(client.post("/api/jobs", json=job("x" * 80)).status_code)
        assert codes[-1] == 507
        before = client.get("/api/jobs").json()
        with app.state.house.database.reading() as db:
            db.execute("PRAGMA max_page_count=1000000")
        assert client.post("/api/jobs", json=job("healed")).status_code == 201
        assert len(client.get("/api/jobs").json()["items"]) == len(before["items"]) + 1


def test_a_body_that_does_not_come_is_not_waited_for(tmp_path):
    with serving(settings_in(tmp_path, limits=Limits(body_s=0.2))) as app, client_of(app) as client:
        port = app.state.house.settings.port
        head = f"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: application/json\r\n"
        with socket.create_connection(("127.0.0.1", port), 20) as line:
            line.sendall(f'{head}Content-Length: 50\r\n\r\n{{"a":'.encode())
            answer = line.recv(65536)
        assert answer.startswith(b"HTTP/1.1 408")
        assert client.get("/api/jobs").status_code == 200
