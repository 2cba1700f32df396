"""The command line on the real engine: what it writes, and what its exit status says."""

import json
import re
import signal
import subprocess
import sys

import httpx
import pytest
from PIL import Image

from server.cli import main
from tests.artwork.pictures import encoded
from tests.blank.skins import gourd_csv
from tests.server.conftest import ROOT, SVG, job
from tests.server.test_job_file import art, written


@pytest.fixture
def leaf(tmp_path):
    """A small good job in a folder of its own."""
    path = written(tmp_path / "job", job(artwork=[art("leaf.svg")]))
    (path.parent / "leaf.svg").write_bytes(SVG)
    return path


def test_a_plan_without_a_server(leaf, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["plan", str(leaf), "-o", str(out)]) == 0
    assert sorted(path.name for path in out.iterdir()) == [
        "difference.png",
        "program.ngc",
        "proof.png",
        "report.json",
        "sheet.html",
    ]
    report = json.loads((out / "report.json").read_text())
    program = (out / "program.ngc").read_bytes()
    assert report["program"]["check_code"] in program.decode("ascii")
    assert report["program"]["check_code"] in capsys.readouterr().out
    assert report["strokes"] == program.count(b"(stroke ")
    for name in ("proof.png", "difference.png"):
        assert (out / name).read_bytes().startswith(b"\x89PNG")
    sheet = (out / "sheet.html").read_text("utf-8")
    assert "<style>" in sheet and not re.search(r'(href|src)="', sheet)
    again = tmp_path / "again"
    assert main(["plan", str(leaf), "-o", str(again)]) == 0
    assert (again / "program.ngc").read_bytes() == program


def test_findings_that_forbid_a_program(leaf, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["plan", str(leaf), "-o", str(out)]) == 0
    thin = json.loads(leaf.read_text())
    thin["blank"]["wall_mm"] = 0.1
    assert main(["plan", str(written(leaf.parent, thin)), "-o", str(out)]) == 1
    assert not (out / "program.ngc").exists(), "the program of another plan was left lying there"
    assert "error:" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"schema": "x"}, "/schema"),
        ({"artwork": [art("nowhere.svg")]}, "/artwork/0/asset"),
        (
            {"blank": {"shape": "ovoid", "length_mm": 60, "breadth_mm": 40, "shift_mm": 90, "quarter_diameter_mm": 30}},
            "",
        ),
    ],
)
def test_a_wrong_job(leaf, tmp_path, capsys, change, words):
    path = written(leaf.parent, {**json.loads(leaf.read_text()), **change})
    assert main(["plan", str(path), "-o", str(tmp_path / "out")]) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_broken_picture_makes_a_wrong_job(leaf, tmp_path, capsys):
    held = bytearray(encoded(Image.new("1", (40, 40))))
    held[held.index(b"IDAT") + 12] ^= 0x10
    (leaf.parent / "leaf.png").write_bytes(held)
    path = written(leaf.parent, job(artwork=[art("leaf.png")]))
    assert main(["plan", str(path), "-o", str(tmp_path / "out")]) == 2
    assert "damaged" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_job_with_nothing_to_cut_says_why_there_is_no_program(tmp_path, capsys):
    path, out = written(tmp_path / "bare", job()), tmp_path / "out"
    assert main(["plan", str(path), "-o", str(out)]) == 1
    assert capsys.readouterr().out.startswith("note: nothing is cut, so there is no program: the job has no artwork")
    (finding,) = json.loads((out / "report.json").read_text())["findings"]
    assert (finding["code"], finding["where"]) == ("nothing-to-cut", {"pointer": "/artwork"})


@pytest.mark.parametrize("out", ["plain", "plain/below", "held", "x" * 300])
def test_results_that_cannot_be_written_are_told_in_one_line(leaf, tmp_path, capsys, out):
    (tmp_path / "plain").write_text("kept")
    (tmp_path / "held" / "program.ngc" / "full").mkdir(parents=True)
    assert main(["plan", str(leaf), "-o", str(tmp_path / out)]) == 2
    told = capsys.readouterr().err
    assert told.startswith("roundwright: ") and told.count("\n") == 1, told
    assert (tmp_path / "plain").read_text() == "kept"
    assert not list(tmp_path.rglob("*.part"))


def test_a_file_that_is_no_job_is_told_in_one_line(tmp_path, capsys):
    texts = {"cut.json": b'{"a":', "latin.json": b'{"name": "\xe9"}', "empty.json": b"", "list.json": b"[1]"}
    for name, data in texts.items():
        (tmp_path / name).write_bytes(data)
    for name in (*texts, ".", "none.json", "cut.json/below", "x" * 300):
        assert main(["plan", str(tmp_path / name), "-o", str(tmp_path / "out")]) == 2
        told = capsys.readouterr().err
        assert told.startswith("roundwright: ") and told.count("\n") == 1 and ": :" not in told, told
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("port", ["abc", "99999", "-1", "", "8e3"])
def test_a_port_that_is_none_is_told_in_one_line(capsys, port):
    with pytest.raises(SystemExit) as ended:
        main(["serve", f"--port={port}"])
    told = capsys.readouterr().err
    assert ended.value.code == 2 and "0 to 65535" in told and told.count("\n") == 1


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.20", "::", "bench.test"])
def test_only_this_machine_is_served(capsys, tmp_path, host):
    assert main(["serve", "--host", host, "--data", str(tmp_path)]) == 2
    assert "loopback" in capsys.readouterr().err


def test_a_job_that_cannot_be_opened_ends_the_start(capsys, tmp_path):
    given = [
        "serve",
        "--port",
        "0",
        "--data",
        str(tmp_path / "d"),
        "--open",
        str(tmp_path / "none.json"),
        "--no-browser",
    ]
    assert main(given) == 2
    assert "No such file" in capsys.readouterr().err


def test_served_from_a_job_file_to_the_program(leaf, tmp_path):
    """The whole way on the real engine: opened, planned in a worker, taken home, proved, and the server ended."""
    command = [sys.executable, "-m", "server.cli", "serve", "--port", "0", "--no-browser"]
    command += ["--data", str(tmp_path / "data"), "--open", str(leaf)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as server:
        try:
            address = re.search(r"http://127\.0\.0\.1:\d+/", server.stdout.readline().decode())[0]
            with httpx.Client(base_url=address, timeout=120) as client:
                opened = re.search(r'"open_job": "([0-9a-f]+)"', client.get("/").text)[1]
                plan = client.post(f"/api/jobs/{opened}/plan", headers={"Prefer": "wait=110"}).json()
                assert plan["state"] == "done", plan
                program = client.get(f"/api/plans/{plan['id']}/program")
                assert program.headers["roundwright-check-code"] == plan["report"]["program"]["check_code"]
                document = client.get(f"/api/jobs/{opened}").json()["job"]
                proof = client.post("/api/prove", json={"job": document, "program": program.text}).json()
                assert [f for f in proof["findings"] if f["severity"] == "error"] == []
                table = {"file": ("gourd.csv", gourd_csv() + b"\n5,7.5,wide")}
                refused = client.post("/api/assets", files=table)
                assert refused.status_code == 422 and "row 2954" in refused.json()["detail"], refused.text
                rubbish = client.post("/api/prove", json={"job": document, "program": "G1 X( \x07"})
                assert rubbish.status_code == 200 and rubbish.json()["findings"][0]["severity"] == "error"
                for what, start in (
                    ("sheet", b"<!doctype html>"),
                    ("proof.png", b"\x89PNG"),
                    ("difference.png", b"\x89PNG"),
                ):
                    assert client.get(f"/api/plans/{plan['id']}/{what}").content.startswith(start)
                strokes = client.get(f"/api/plans/{plan['id']}/strokes", headers={"Accept": "application/json"}).json()
                assert {"skin_r", "art_uv", "wrap_x", "stroke_x", "move_x", "carved_depth"} <= set(strokes["arrays"])
        finally:
            server.send_signal(signal.SIGINT)
        assert server.wait(30) == 0
    assert main(["plan", str(leaf), "-o", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "program.ngc").read_bytes() == program.content
