"""What a task frees is there for its next array, and the system has it again when the task has ended."""

import json
import platform
import subprocess
import sys

from tests.server.conftest import ROOT

ROUNDS = """
import json, resource, sys
import numpy as np, psutil
from server.workers import heap
kept = heap.keep() if sys.argv[1] == "keep" else False
def held_mb():
    return psutil.Process().memory_info().rss / 2**20
def work():
    arrays = [np.full(1 << 20, 1.0) for _ in range(8)]  # 8 MB each
before = held_mb()
work()
faults = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(5):
    work()
faults = resource.getrusage(resource.RUSAGE_SELF).ru_minflt - faults
grown = held_mb() - before
heap.give_back()
print(json.dumps({"kept": kept, "faults": faults, "grown": grown, "left": held_mb() - before}))
"""


def test_freed_memory_is_kept_for_the_next_array_and_given_back_at_the_end():
    told = {
        way: json.loads(subprocess.check_output([sys.executable, "-c", ROUNDS, way], cwd=ROOT, text=True))
        for way in ("keep", "leave")
    }
    if platform.libc_ver()[0] != "glibc":
        assert not told["keep"]["kept"]
        return
    assert told["keep"]["kept"]
    assert told["keep"]["faults"] < 0.05 * told["leave"]["faults"]
    assert told["keep"]["grown"] > 60
    assert told["keep"]["left"] < 4
