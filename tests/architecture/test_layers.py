"""Which room may know which: the table of DEVELOPERS.md, held against every import in the tree."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

MAY = {
    "kernel": set(),
    "blank": {"kernel"},
    "artwork": {"kernel"},
    "machine": {"kernel"},
    "measure": {"kernel", "blank"},
    "layout": {"kernel", "blank"},
    "marking": {"kernel", "artwork", "layout"},
    "toolpath": {"kernel", "blank", "layout", "marking", "machine"},
    "program": {"kernel", "machine"},
    "proof": {"kernel", "blank", "machine"},
    "files": {"kernel", "blank", "measure", "artwork"},
    "job": {"kernel", "blank", "measure", "artwork", "layout", "marking", "machine"},
    "outcome": {"kernel", "blank", "artwork", "layout", "marking", "machine", "job", "program", "proof"},
    "pictures": {"kernel", "artwork", "job"},
    "paper": {"kernel", "blank", "artwork", "layout"},
    "printing": {"kernel", "blank", "job", "outcome", "paper", "pieces"},
    "placed": {"kernel", "blank", "artwork", "layout", "job", "outcome", "pictures"},
    "pieces": {"kernel", "blank", "layout", "marking", "toolpath", "job", "outcome", "placed"},
    "measuring": {"kernel", "blank", "measure", "artwork", "machine", "job", "program", "outcome"},
    "plan": {
        *("kernel", "blank", "artwork", "layout", "marking", "machine"),
        *("toolpath", "program", "proof", "job", "outcome", "pieces", "pictures"),
    },
}
# Placing a drawing is layout's work and a drawing is artwork's value: the one arrow between two rooms of a floor.
MAY["layout"].add("artwork")

FOREIGN = {"kernel": {"numpy", "numba"}}
CLOCKS = {"time", "datetime", "random", "secrets", "os", "pathlib", "tempfile", "logging", "subprocess", "socket"}


def rooms():
    for path in sorted((ROOT / "engine").rglob("*.py")):
        inner = path.relative_to(ROOT / "engine")
        if inner.name == "__init__.py" and len(inner.parts) == 1:
            continue
        yield path, inner.parts[0].removesuffix(".py")


def imported(path):
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, name.name) for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.lineno, node.module


@pytest.mark.parametrize(("path", "room"), list(rooms()), ids=lambda v: v if isinstance(v, str) else v.stem)
def test_a_room_knows_only_what_it_may(path, room):
    assert room in MAY, f"{room} is no room of the house: give it a place in the table"
    for line, module in imported(path):
        top, *rest = module.split(".")
        assert top not in {"server", "web", "tests"}, f"{path}:{line} looks up at {module}"
        if top == "engine":
            assert rest, f"{path}:{line} imports the whole engine"
            assert rest[0] == room or rest[0] in MAY[room], f"{path}:{line}: {room} may not know {rest[0]}"


@pytest.mark.parametrize(("path", "room"), list(rooms()), ids=lambda v: v if isinstance(v, str) else v.stem)
def test_the_engine_has_no_clock_no_files_no_chance(path, room):
    for line, module in imported(path):
        assert module.split(".")[0] not in CLOCKS, f"{path}:{line} imports {module}"
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in {"open", "print", "eval", "exec"}, f"{path}:{node.lineno}"


def test_the_kernel_stands_on_numpy_alone():
    allowed = {"numpy", "numba", "engine", "collections", "dataclasses", "enum", "itertools", "math", "typing"}
    for path, room in rooms():
        if room == "kernel":
            for line, module in imported(path):
                assert module.split(".")[0] in allowed, f"{path}:{line} imports {module}"


def test_the_proof_shares_nothing_with_the_writers():
    for path, room in rooms():
        if room == "proof":
            for line, module in imported(path):
                assert not module.startswith(
                    ("engine.program", "engine.toolpath", "engine.layout", "engine.marking")
                ), f"{path}:{line} imports {module}"


def test_the_server_knows_only_the_engines_front_door():
    for path in sorted((ROOT / "server").rglob("*.py")):
        for line, module in imported(path):
            if module.split(".")[0] == "engine":
                assert module == "engine", f"{path.relative_to(ROOT)}:{line} goes past the front door: {module}"
            assert module.split(".")[0] != "tests"
