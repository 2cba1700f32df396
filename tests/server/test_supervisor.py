"""What the workers must stand: every bad end is one, prompt, told in few words, and harms no other task."""

import asyncio
import contextlib
import os
import subprocess
import sys

import psutil
import pytest

from server.workers.desk import SHORT_BYTES
from server.workers.supervisor import Pool, Supervisor
from server.workers.walls import Walls
from tests.server.conftest import ROOT, STAND_IN

TIGHT = Walls(wall_s=60, cpu_s=2, rss_bytes=400 << 20, address_bytes=1 << 30)


@contextlib.asynccontextmanager
async def house(folder, **change):
    """A started supervisor; afterwards no worker and no file of one is left."""
    given = {"entry": STAND_IN, "version": "1", "folder": folder, "import_paths": (str(ROOT),), "limits": TIGHT}
    before = set(children())
    supervisor = Supervisor(Pool(**{**given, "running": 2, **change}))
    supervisor.start()
    try:
        assert await supervisor.ready(), supervisor.last_words
        yield supervisor
    finally:
        await supervisor.stop(drain_s=0)
    assert set(children()) <= before, "a worker outlived its supervisor"
    assert not (folder / "rooms").exists()


def children(pid=None):
    found = psutil.Process(pid or os.getpid()).children(recursive=True)
    return [child.pid for child in found if "server.workers.worker" in " ".join(child.cmdline())]


async def ended(supervisor, name, **more):
    task = await supervisor.submit({"do": "plan", "job": {"name": name}}, {}, user=f"user of {name}", **more)
    await task.ended()
    return task


FATES = {
    "segfault": "Crashed",
    "exit": "Left",
    "stop": "Stopped",
    "spin": "CpuTime",
    "hoard": "MemoryError",
    "nonsense": "WorkerFault",
    "forks": "Left",
    "fails": "FaultyError",
    "breaks": "KeyError",
}


def test_every_bad_end_is_one_and_harms_nobody(tmp_path):
    async def play():
        async with house(tmp_path / "w") as supervisor:
            good = [asyncio.create_task(ended(supervisor, f"good {n}")) for n in range(6)]
            bad = {name: asyncio.create_task(ended(supervisor, name)) for name in FATES}
            for task in await asyncio.gather(*good):
                assert task.state == "done" and task.value["report"]["strokes"] == 1
            for name, waiting in bad.items():
                task = await waiting
                assert (task.state, task.error["type"]) == ("failed", FATES[name]), task.error
                assert "secret" not in str(task.error)
            assert supervisor.health()["unlike_results"] == 0
            return (await bad["fails"]).error

    error = asyncio.run(asyncio.wait_for(play(), 90))
    assert error["where"] == "/blank/length_mm" and error["declared"] is True


def test_what_takes_too_long_is_ended(tmp_path):
    async def play():
        async with house(tmp_path / "w", limits=Walls(wall_s=0.5)) as supervisor:
            return await ended(supervisor, "polite")

    task = asyncio.run(asyncio.wait_for(play(), 60))
    assert (task.state, task.error["type"]) == ("failed", "WallTime")


@pytest.mark.parametrize("name", ["spin", "polite", "stop"])
def test_a_cancel_frees_the_processor(tmp_path, name):
    async def play():
        async with house(tmp_path / "w", running=1) as supervisor:
            task = await supervisor.submit({"do": "plan", "job": {"name": name}}, {}, user="a")
            while task.stage != "proof":
                await asyncio.sleep(0.01)
            worker = supervisor._worker_of(task)
            assert await supervisor.cancel(task) and not await supervisor.cancel(task)
            assert task.state == "cancelled" and (worker.state == "idle") == (name == "polite")
            assert (await ended(supervisor, "next")).state == "done"

    asyncio.run(asyncio.wait_for(play(), 60))


def test_a_waiting_task_is_cancelled_without_a_worker(tmp_path):
    async def play():
        async with house(tmp_path / "w", running=1) as supervisor:
            first = await supervisor.submit({"do": "plan", "job": {"name": "polite"}}, {}, user="a")
            second = await supervisor.submit({"do": "plan", "job": {"name": "b"}}, {}, user="a")
            assert second.state == "queued" and await supervisor.cancel(second)
            assert await supervisor.cancel(first)
            assert second.state == "cancelled" and supervisor.desk.waiting == 0

    asyncio.run(asyncio.wait_for(play(), 60))


def test_short_work_is_done_while_long_work_runs_and_a_cancel_ends_the_long(tmp_path):
    photographs = {f"{k:064d}": bytes(SHORT_BYTES // 4) for k in range(5)}

    async def play():
        async with house(tmp_path / "w", running=1) as supervisor:
            long_ones = [
                await supervisor.submit({"do": "plan", "job": {"name": name}}, photographs, user="a")
                for name in ("polite", "long and next")
            ]
            while long_ones[0].stage != "proof":
                await asyncio.sleep(0.01)
            for name in ("a table of callipers", "a small plan"):
                assert (await ended(supervisor, name)).state == "done"
            assert [task.state for task in long_ones] == ["running", "queued"]
            assert len(supervisor.workers) == 2, "no more workers than before"
            assert await supervisor.cancel(long_ones[0])
            assert (await long_ones[1].ended()).state == "done"

    asyncio.run(asyncio.wait_for(play(), 60))


def test_the_same_input_is_not_planned_twice(tmp_path):
    async def play():
        async with house(tmp_path / "w") as supervisor:
            first = await ended(supervisor, "same")
            handed = [worker.tasks_done for worker in supervisor.workers.values()]
            while first.unfiled is not None:
                await asyncio.sleep(0.01)
            again = await supervisor.submit({"do": "plan", "job": {"name": "same"}}, {}, user="b")
            assert again.state == "done" and again.value == first.value
            assert [worker.tasks_done for worker in supervisor.workers.values()] == handed
            assert supervisor.desk.result(again).npz == supervisor.desk.result(first).npz

    asyncio.run(asyncio.wait_for(play(), 60))


def test_the_walls_stand(tmp_path):
    async def play():
        async with house(tmp_path / "w") as supervisor:
            walls = supervisor.health()["walls"]
            outside = await ended(supervisor, "writes outside")
            connects = await ended(supervisor, "connects")
            await ended(supervisor, "litters")
            await ended(supervisor, "after the litter")
            return walls, outside, connects

    walls, outside, connects = asyncio.run(asyncio.wait_for(play(), 60))
    if walls["shut_in"] == "stands":
        assert outside.error["type"] == "PermissionError"
        assert connects.error["type"] == "PermissionError"
    assert walls["dies_with_server"] == "stands" or not sys.platform.startswith("linux")


SERVER_TO_KILL = """
import asyncio, sys
from pathlib import Path
from server.workers.supervisor import Pool, Supervisor
async def main():
    supervisor = Supervisor(Pool(entry=sys.argv[1], version="1", folder=Path(sys.argv[2]), import_paths=(sys.argv[3],)))
    supervisor.start()
    await supervisor.ready()
    await supervisor.submit({"do": "plan", "job": {"name": "spin"}}, {}, user="a")
    print("busy", flush=True)
    await asyncio.sleep(60)
asyncio.run(main())
"""


def test_workers_die_with_a_killed_server(tmp_path):
    command = [sys.executable, "-c", SERVER_TO_KILL, STAND_IN, str(tmp_path / "w"), str(ROOT)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as server:
        assert server.stdout.readline() == b"busy\n"
        workers = [psutil.Process(pid) for pid in children(server.pid)]
        server.kill()
        server.wait()
        _, alive = psutil.wait_procs(workers, timeout=5)
    assert workers and not alive
