"""What is saved stays saved: a transaction a save, revisions, entity tags, files that are what their names say."""

import sqlite3
import subprocess
import sys
import threading

import pytest

from server.store import Assets, Database, Jobs, Library
from server.store.assets import asset_id
from tests.server.conftest import ROOT


@pytest.fixture
def database(tmp_path):
    database = Database(tmp_path / "d.sqlite3")
    yield database
    database.close()


def named(name, n=0):
    return {"name": name, "n": n}


def test_a_file_that_is_not_ours_is_left_alone(tmp_path):
    path = tmp_path / "d.sqlite3"
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE someone (else_ INTEGER)")
    db.close()
    before = path.read_bytes()
    with pytest.raises(OSError, match="another program"):
        Database(path)
    assert path.read_bytes() == before
    path.write_bytes(b"no database at all, but long enough to look at" * 100)
    with pytest.raises(OSError, match="cannot be used"):
        Database(path)


def test_a_newer_file_is_refused(tmp_path):
    path = tmp_path / "d.sqlite3"
    Database(path).close()
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version=99")
    db.close()
    with pytest.raises(OSError, match="newer"):
        Database(path)


def test_commits_are_synced(database):
    with database.reading() as db:
        assert db.execute("PRAGMA synchronous").fetchone()[0] == 2
        assert db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert db.execute("PRAGMA foreign_keys").fetchone()[0] == 1


def test_every_save_is_a_revision(database):
    jobs = Jobs(database)
    first = jobs.create(named("a"))
    second = jobs.save(first.id, named("b"), etag=first.etag)
    assert jobs.save(first.id, named("c"), etag=first.etag) is None
    assert [saved.name for saved in jobs.revisions(first.id)] == ["b", "a"]
    assert jobs.find(first.id) == second and jobs.find(first.id, 1) == first and jobs.find(first.id, 3) is None
    assert not jobs.delete(first.id, etag=first.etag) and jobs.delete(first.id, etag=second.etag)
    assert jobs.find(first.id) is None and jobs.revisions(first.id) == [] and jobs.listed(9) == []
    for call in (lambda: jobs.delete(first.id, etag=second.etag), lambda: jobs.save(first.id, named("x"), etag="")):
        with pytest.raises(LookupError):
            call()


def test_no_save_is_lost_between_many(database):
    jobs = Jobs(database)
    made = jobs.create(named("count"))
    saved = []

    def add():
        for _ in range(25):
            held = jobs.find(made.id)
            n = held.document()["job"]["n"]
            if jobs.save(made.id, named("count", n + 1), etag=held.etag):
                saved.append(1)

    threads = [threading.Thread(target=add) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert jobs.find(made.id).document()["job"]["n"] == len(saved) == jobs.find(made.id).revision - 1 > 0


SAVER = """
import sys
from pathlib import Path
from server.store import Database, Jobs
jobs = Jobs(Database(Path(sys.argv[1])))
while True:
    saved = jobs.create({"name": "x" * 2000})
    print(saved.id, flush=True)
"""


def test_what_was_acknowledged_outlives_a_kill(tmp_path):
    path = tmp_path / "d.sqlite3"
    acknowledged = []
    for _ in range(4):
        with subprocess.Popen([sys.executable, "-c", SAVER, str(path)], cwd=ROOT, stdout=subprocess.PIPE) as saver:
            acknowledged += [saver.stdout.readline().decode().strip() for _ in range(20)]
            saver.kill()
    database = Database(path)
    assert all(Jobs(database).find(name) for name in acknowledged)
    with database.reading() as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    database.close()


def test_a_library_shelf(database):
    tools, machines = Library(database, "tools"), Library(database, "machines")
    first = tools.create("ball", {"id": "ball"})
    assert tools.create("ball", {"id": "ball"}) is None
    assert machines.find("ball") is None and tools.find("ball") == first
    second = tools.save("ball", {"id": "ball", "n": 2}, etag=first.etag)
    assert tools.save("ball", {}, etag=first.etag) is None
    assert [entry.value for entry in tools.all()] == [{"id": "ball", "n": 2}]
    assert not tools.delete("ball", etag=first.etag) and tools.delete("ball", etag=second.etag)
    with pytest.raises(LookupError):
        tools.save("ball", {}, etag=second.etag)


def test_assets_are_what_their_ids_say(database, tmp_path):
    folder = tmp_path / "assets"
    assets = Assets(database, folder, most_bytes=100)
    kept = assets.add(b"leaf", kind="vector", media_type="image/svg+xml", facts={"width": 1.0})
    assert kept.id == asset_id(b"leaf") == assets.add(b"leaf", kind="x", media_type="y", facts={}).id
    assert assets.find(kept.id) == kept and assets.read(kept.id) == b"leaf"
    assert assets.kinds([kept.id, "0" * 64, "../x"]) == {kept.id: "vector"}
    with pytest.raises(OSError, match="limit"):
        assets.add(b"x" * 97, kind="vector", media_type="", facts={})
    (folder / kept.id).write_bytes(b"weed")
    with pytest.raises(OSError, match="changed"):
        assets.read(kept.id)
    with pytest.raises(LookupError):
        assets.read("0" * 64)
    (folder / "half.part").write_bytes(b"")
    Assets(database, folder, most_bytes=100)
    assert [path.name for path in folder.iterdir()] == [kept.id]
