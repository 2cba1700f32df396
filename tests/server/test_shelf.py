"""Results on disk: what has changed is none, what is least used goes first, what was there at the start is gone."""

from server.workers.handle import Result
from server.workers.shelf import Shelf
from server.workers.wire import dump_arrays, dump_json


def result(n):
    return Result(value={"n": n}, json=dump_json({"n": n}), npz=dump_arrays({}))


def test_comes_back_proved(tmp_path):
    shelf = Shelf(tmp_path / "results")
    shelf.put("a", result(1))
    assert shelf.get("a") == result(1)
    (file,) = (tmp_path / "results").iterdir()
    data = bytearray(file.read_bytes())
    data[data.index(b'"n":1') + 4] ^= 1
    file.write_bytes(data)
    assert shelf.get("a") is None and not shelf.has("a")


def test_the_least_used_goes_first(tmp_path):
    shelf = Shelf(tmp_path / "results", most_bytes=700)
    for name in "ab":
        shelf.put(name, result(1))
    shelf.get("a")
    while shelf.has("b"):
        shelf.put(f"more {len(list((tmp_path / 'results').iterdir()))}", result(2))
    assert shelf.has("a")


def test_unlike_results_are_counted(tmp_path):
    shelf = Shelf(tmp_path / "results")
    shelf.put("a", result(1))
    shelf.put("a", result(1))
    assert shelf.unlike == 0
    shelf.put("a", result(2))
    assert shelf.unlike == 1 and shelf.get("a") == result(1)


def test_starts_empty(tmp_path):
    Shelf(tmp_path / "results").put("a", result(1))
    assert not Shelf(tmp_path / "results").has("a")
