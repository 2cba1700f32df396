"""A small count of what `python -m tests.faults` counts in full: harmful faults are caught, good jobs not cried for."""

from tests.faults.counting import Count, good, trial
from tests.faults.faults import FAULTS
from tests.faults.harm import deeds_of, harm_of
from tests.faults.jobs import ASSETS

JOBS, EACH = 7, 9


def test_harmful_faults_are_caught_and_good_jobs_are_not():
    count = Count()
    for seed in range(JOBS):
        trial(1000 + seed, EACH, count)
    assert count.missed == [] and count.alarms == []
    assert sum(count.harmful.values()) > 0.5 * JOBS * EACH
    assert len(count.made) == len(FAULTS)  # every kind came up


def test_the_referee_sees_the_harm_that_is_put_in_by_hand():
    job, plan = good(3)
    text = plan.programs["engrave"].text.decode()
    skin, zero = job.blank.skin(ASSETS), 0.0
    if job.machine.z_zero.value == "surface":
        zero = plan.report["touch_off"]["first"]["radius_mm"]
    right = deeds_of(text, job, zero)

    def harm(bad):
        return harm_of(deeds_of(bad, job, zero), right, job, skin)

    assert harm(text) == set()
    assert "spindle off" in harm(text.replace(" M3", " M5"))
    assert harm(text.replace(".", ",")) == {"stops"}
    assert "left" in harm(text[: len(text) // 2].rsplit("\n", 1)[0] + "\nM2\n")
    assert "deeper" in harm_of(_sunk(deeds_of(text, job, zero), 0.1), right, job, skin)


def _sunk(deeds, by_mm):
    deeds.at[~deeds.rapid, 2] -= by_mm
    return deeds
