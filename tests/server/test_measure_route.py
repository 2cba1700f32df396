"""The measuring routes with the engine's own workers: what is uploaded, asked, answered, kept and planned on."""

import httpx
import numpy as np
import pytest

import engine
from tests.measuring.test_scanned import MESH
from tests.server.conftest import SVG, job, serving, settings_in

STATIONS = [{"x_mm": x, "diameter_mm": 40 + x / 4, "across_mm": 44 + x / 4} for x in range(0, 81, 10)]


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    change = {"planner": "server.workers.task:task", "looker": "server.workers.look:task"}
    with serving(settings_in(tmp_path_factory.mktemp("shop"), **change)) as app:
        address = f"http://127.0.0.1:{app.state.house.settings.port}/api"
        with httpx.Client(base_url=address, timeout=120) as client:
            yield client


def kept(shop, data, name="file"):
    answer = shop.post("/assets", files={"file": (name, data)})
    assert answer.status_code == 201, answer.text
    return answer.json()


def test_a_skin_is_an_asset_that_a_job_is_planned_on(shop):
    answer = shop.post("/measure/callipers", json={"stations": STATIONS, "reading_error_mm": 0.02})
    assert answer.status_code == 200, answer.text
    blank = answer.json()["blank"]
    table = shop.get(f"/assets/{blank['asset']}")
    assert table.text.startswith("x_mm,angle_deg,radius_mm,sigma_mm\n") and table.headers["content-type"].startswith(
        "text/csv"
    )
    leaf = kept(shop, SVG, "leaf.svg")["id"]
    art = {
        "asset": leaf,
        "placement": {"x_mm": 40, "angle_deg": 0, "width_mm": 12},
        "depth_mm": 0.2,
        "marking": {"style": "outline"},
    }
    plan = shop.post("/plan", json=job(blank=blank, artwork=[art]), headers={"Prefer": "wait=60"}).json()
    assert plan["state"] == "done", plan
    assert 0 < plan["report"]["skin_error_mm"]["greatest"] < 0.2
    assert shop.get(f"/plans/{plan['id']}/program").status_code == 200


def test_a_scan_is_uploaded_measured_and_planned_on_either_way(shop):
    told = kept(shop, MESH, "gourd.stl")
    assert told["kind"] == "mesh"
    asked = {"asset": told["id"], "unit": "mm", "axis": {"origin": [0, 0, 0], "direction": [1, 0, 0]}}
    answer = shop.post("/measure/scan", json=asked)
    assert answer.status_code == 200, answer.text
    skin = answer.json()["skin"]
    assert (
        len(skin["radius_mm"]) == len(skin["x_mm"]) <= 121
        and len(skin["radius_mm"][0]) == len(skin["angle_deg"]) <= 181
    )
    for blank in (answer.json()["blank"], {"shape": "scan", **asked}):
        plan = shop.post("/plan", json=job(blank=blank), headers={"Prefer": "wait=60"}).json()
        assert plan["state"] == "done", plan


def test_programs_are_text_to_download_or_told_with_their_findings(shop):
    asked = {
        "blank": {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90},
        "stations": [20, 40, 60],
        "angles": 8,
        "tip_radius_mm": 1,
    }
    text = shop.post("/measure/probe-program", json=asked)
    assert text.headers["content-type"].startswith("text/plain") and "attachment" in text.headers["content-disposition"]
    assert text.text.count("G38.2") == 24 and text.text.startswith("(")
    value = shop.post("/measure/probe-program", json=asked, headers={"Accept": "application/json"}).json()
    assert value["program"] == text.text and value["points"] == 24 and value["findings"] == []


def test_what_cannot_be_measured_is_a_problem_with_its_place(shop):
    def places(way, document):
        answer = shop.post(f"/measure/{way}", json=document)
        assert answer.status_code == 422 and answer.headers["content-type"] == "application/problem+json"
        return {(error["pointer"], error["allowed"]) for error in answer.json()["errors"]}

    assert {p for p, _ in places("scan", {"asset": "0" * 64, "unit": "mm"})} == {"/asset"}
    assert {p for p, _ in places("callipers", {"stations": STATIONS, "wide": 1})} == {"/wide"}
    ((pointer, words),) = places("callipers", {"stations": [*STATIONS, STATIONS[0]]})
    assert pointer.startswith("/stations/9") and len(words) > 20
    assert shop.post("/measure/weighing", json={}).status_code in (404, 405)
    assert shop.post("/measure/scan", content=b"{", headers={"Content-Type": "application/json"}).status_code == 400


def test_a_log_is_kept_as_readings_and_made_a_skin(shop):
    x, a = np.meshgrid(np.linspace(5, 85, 9), np.arange(24) * 15.0, indexing="ij")
    rows = [
        f"[touch:{p:.3f},0.000,{20 + 0.3 * np.cos(np.radians(q)):.3f},{q:.3f}:1]"
        for p, q in zip(x.ravel(), a.ravel(), strict=True)
    ]
    told = kept(shop, "\n".join(["ok", *rows, "ok"]).encode(), "probe.log")
    assert told["kind"] == "readings"
    answer = shop.post("/measure/probe-log", json={"log": told["id"], "tip_radius_mm": 1.0})
    assert answer.status_code == 200, answer.text
    assert np.mean(answer.json()["skin"]["runout_mm"]) == pytest.approx(0.3, abs=0.02)
    assert shop.post("/plan", json=job(blank={"shape": "grid", "asset": told["id"]})).status_code == 422


def test_the_card_is_an_svg_to_print_in_true_mm(shop):
    for paper, size in (("a4", 'width="210.0mm"'), ("letter", 'width="215.9mm"')):
        card = shop.get("/measure/card.svg", params={"paper": paper})
        assert card.headers["content-type"] == "image/svg+xml" and size in card.text
    assert shop.get("/measure/card.svg", params={"paper": "a3"}).status_code == 422


def test_every_way_is_described_to_scripts(shop):
    described = shop.get("/openapi.json").json()["paths"]
    for name, way in engine.WAYS.items():
        assert described[f"/api/measure/{name}"]["post"]["summary"] == way.about
