"""One server a folder: the second is refused, and what a dead one left does not stand in the way."""

import subprocess
import sys

import pytest

from server.store import Folder
from tests.server.conftest import ROOT

HOLD = "import sys; from pathlib import Path; from server.store import Folder; f = Folder(Path(sys.argv[1])); "
SERVE = [sys.executable, "-m", "server.cli", "serve", "--port", "0", "--no-browser", "--data"]


def test_a_folder_is_held_until_it_is_let_go(tmp_path):
    first = Folder(tmp_path / "data")
    with pytest.raises(OSError, match="in use"):
        Folder(tmp_path / "data")
    Folder(tmp_path / "other").close()
    first.close()
    Folder(tmp_path / "data").close()


def test_a_folder_that_a_dead_process_held_is_free(tmp_path):
    held = HOLD + "print(); sys.stdout.flush(); sys.stdin.read()"
    command = [sys.executable, "-c", held, str(tmp_path)]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        holder.stdout.readline()
        with pytest.raises(OSError, match="in use"):
            Folder(tmp_path)
        holder.kill()
        holder.wait(20)
    Folder(tmp_path).close()


def test_a_second_server_on_the_folder_says_so_in_one_line(tmp_path):
    held = Folder(tmp_path)
    try:
        ended = subprocess.run(
            [*SERVE, str(tmp_path)], check=False, cwd=ROOT, capture_output=True, text=True, timeout=60
        )
    finally:
        held.close()
    assert ended.returncode == 2 and ended.stdout == ""
    assert str(tmp_path) in ended.stderr and "in use" in ended.stderr and ended.stderr.count("\n") == 1
