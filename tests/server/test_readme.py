"""The README's two worked examples, run as they stand there, against the real application and the real engine."""

import json
import re
import subprocess
import sys

import pytest

from server.settings import Settings
from tests.server.conftest import ROOT, free_port, serving

README = (ROOT / "README.md").read_text("utf-8")


def block(language):
    found = re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert len(found) == 1, f"the README holds {len(found)} {language} blocks"
    return found[0]


@pytest.fixture(scope="module")
def at(tmp_path_factory):
    port = free_port()
    with serving(Settings(data=tmp_path_factory.mktemp("readme"), port=port)):
        yield f"http://127.0.0.1:{port}"


def test_the_curl_example(at):
    script = block("sh").replace("http://127.0.0.1:8437", at)
    done = subprocess.run(["bash", "-euc", script], cwd=ROOT, capture_output=True, text=True, timeout=170, check=False)
    assert done.returncode == 0, done.stderr
    plan = json.loads(done.stdout)
    assert plan["state"] == "done"
    assert plan["report"]["strokes"] > 50


def test_the_httpx_example(at, tmp_path):
    script = tmp_path / "example.py"
    script.write_text(block("python").replace("http://127.0.0.1:8437", at), "utf-8")
    done = subprocess.run([sys.executable, script], cwd=ROOT, capture_output=True, text=True, timeout=170, check=False)
    assert done.returncode == 0, done.stderr
    first, *rest = done.stdout.splitlines()
    assert re.fullmatch(r"done \d+ [0-9A-Z]{4}-[0-9A-Z]{4}", first)
    assert rest[0] == "(program: engraving)"


def test_the_two_set_up_commands_stand_there_and_name_what_exists():
    commands = re.findall(r"^    (python3 -m venv .*)$", README, re.MULTILINE)
    assert len(commands) == 2
    serve, check = commands
    job = re.search(r"--open (\S+)", serve).group(1)
    assert (ROOT / job).is_file()
    assert "tests.check" in check
    for picture in re.findall(r"!\[[^\]]*\]\((\S+)\)", README):
        assert (ROOT / picture).is_file(), picture
