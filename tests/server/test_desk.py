"""Admission and turns, without a process in sight."""

import pytest

from server.workers.desk import SHORT_BYTES, BusyError, Desk
from server.workers.shelf import Shelf


def desk_in(tmp_path, **change):
    given = {"places": 2, "queue": 4, "share": 3, **change}
    return Desk(shelf=Shelf(tmp_path / "results"), aside=lambda call, *args: call(*args), **given)


def admit(desk, user):
    return desk.admit({}, {}, user=user, digest=f"{user} {len(desk.tasks)}")


def refused(desk, user):
    with pytest.raises(BusyError) as caught:
        admit(desk, user)
    return caught.value.status, caught.value.retry_after_s


def test_retry_after_follows_the_mean_and_turns_are_fair(tmp_path):
    desk = desk_in(tmp_path)
    loud = [admit(desk, "loud") for _ in range(3)]
    assert refused(desk, "loud") == (429, 10)  # a guess of 5 s: 3 wait, one more, 2 places
    running = [desk.next(), desk.next()]
    assert running == loud[:2] and desk.next() is None
    quiet = [admit(desk, "quiet") for _ in range(2)]
    admit(desk, "third")
    assert refused(desk, "fourth") == (503, 3)
    running[0].started_s -= 299.0
    assert desk.finish(running[0], "failed") and not desk.finish(running[0], "done")
    assert desk.next() is quiet[0]  # before the loud user's older third one
    desk.close()
    assert desk.waiting == 0 and refused(desk, "sixth")[0] == 503
    assert {task.state for task in desk.tasks.values()} == {"failed", "running"}


def test_progress_only_grows_and_must_make_sense(tmp_path):
    desk = desk_in(tmp_path)
    task = admit(desk, "a")
    desk.next()
    assert desk.tell(task, 0.5, "proof", b"partial") and desk.tell(task, 0.25, "report", None)
    assert (task.progress, task.stage, task.partial) == (0.5, "report", b"partial")
    for progress, stage in ((float("nan"), "a"), (2, "a"), ("1", "a"), (True, "a"), (0.1, "<b>"), (0.1, None)):
        assert not desk.tell(task, progress, stage, None)


def test_old_ends_are_forgotten_and_live_ones_are_not(tmp_path):
    desk = desk_in(tmp_path, remember=8, share=99, queue=99, places=99)
    live = admit(desk, "a")
    for _ in range(50):
        desk.finish(admit(desk, "a"), "cancelled")
    assert len(desk.tasks) <= 8 and live.id in desk.tasks


def test_short_work_does_not_wait_behind_long_nor_long_behind_short(tmp_path):
    long_one = {"0" * 64: bytes(SHORT_BYTES)}

    def taken(assets, count, **change):
        desk = desk_in(tmp_path, share=9, queue=9, **change)
        tasks = [desk.admit({}, held, user="a", digest=str(k)) for k, held in enumerate(assets * count)]
        return desk, tasks, [tasks.index(task) for task in iter(desk.next, None)]

    for first, second in ((long_one, {}), ({}, long_one)):
        desk, tasks, running = taken([first, first, second, second], 1, places=1, extra=1)
        assert running == [0, 2]
        desk.finish(tasks[0], "cancelled")
        assert desk.next() is tasks[1] and desk.next() is None
        desk.finish(tasks[2], "done")
        assert desk.next() is tasks[3] and desk.waiting == 0
        assert taken([first, second], 2, places=1, extra=0)[2] == [0], "without a place beside they share one"
        assert taken([first], 4, places=1, extra=1)[2] == [0], "the place beside is the other lane's"
        assert taken([first, second], 3, places=2, extra=1)[2] == [0, 1, 2]
