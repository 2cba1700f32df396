"""Seeded faults in good programs, counted: how many do harm, how many of those the proof catches; its false alarms.

Caught is an error or a warning that the good program does not have.
"""

import random
from collections import Counter
from dataclasses import dataclass, field

import engine
from tests.faults.faults import FAULTS
from tests.faults.harm import deeds_of, harm_of
from tests.faults.jobs import ASSETS, job_of

__all__ = ["Count", "good", "tell", "trial"]


@dataclass
class Count:
    """made, harmful, caught : by kind of fault. missed : (seed, number, kind, harm, first line changed).
    alarms : (seed, codes).
    """

    made: Counter = field(default_factory=Counter)
    harmful: Counter = field(default_factory=Counter)
    caught: Counter = field(default_factory=Counter)
    missed: list = field(default_factory=list)
    alarms: list = field(default_factory=list)
    jobs: int = 0


def good(seed):
    """(job, plan) of a seed."""
    job, _ = job_of(seed)
    return job, engine.plan(job, ASSETS)


def severe(findings):
    return {(f["severity"], f["code"]) for f in findings if f["severity"] in ("error", "warning")}


def trial(seed, faults, count):
    """One good job, and so many faults in its program."""
    job, plan = good(seed)
    count.jobs += 1
    if not plan.programs:
        count.alarms.append((seed, sorted({f.code for f in plan.findings if f.severity.value == "error"})))
        return
    text = plan.programs["engrave"].text.decode()
    skin = job.blank.skin(ASSETS)
    touch = plan.report["touch_off"]["first"]
    zero = touch["radius_mm"] if job.machine.z_zero.value == "surface" else 0.0
    known = severe(engine.prove_text(job, ASSETS, text.encode())["findings"])
    right = deeds_of(text, job, zero)
    assert harm_of(right, right, job, skin) == set(), (seed, harm_of(right, right, job, skin))
    lines = text.splitlines()
    rng = random.Random(seed)
    for n in range(faults):
        kind = FAULTS[(seed * faults + n) % len(FAULTS)]
        bad = kind(lines, rng, list(job.machine.letters))
        if bad is None or bad == lines:
            continue
        count.made[kind.__name__] += 1
        wrong = "\n".join(bad) + "\n"
        harm = harm_of(deeds_of(wrong, job, zero), right, job, skin)
        if not harm:
            continue
        count.harmful[kind.__name__] += 1
        told = severe(engine.prove_text(job, ASSETS, wrong.encode())["findings"]) - known
        if told:
            count.caught[kind.__name__] += 1
        else:
            first = next((k for k, (a, b) in enumerate(zip(lines, bad, strict=False)) if a != b), len(bad))
            count.missed.append((seed, n, kind.__name__, sorted(harm), first + 1))


def tell(count):
    """The table as text."""
    rows = [f"{'fault':24}{'made':>7}{'harmful':>9}{'caught':>8}"]
    rows += [f"{k:24}{count.made[k]:7d}{count.harmful[k]:9d}{count.caught[k]:8d}" for k in sorted(count.made)]
    made, harmful, caught = (sum(c.values()) for c in (count.made, count.harmful, count.caught))
    rows.append(f"{'all':24}{made:7d}{harmful:9d}{caught:8d}   {caught / max(harmful, 1):.4%}")
    rows.append(f"good jobs {count.jobs}, false alarms {len(count.alarms)}")
    return "\n".join([*rows, *(f"missed {m}" for m in count.missed), *(f"alarm {a}" for a in count.alarms)])
