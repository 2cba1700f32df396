"""The full count: `python -m tests.faults [faults] [first seed]`; by default 2,000 faults, and as many good jobs."""

import sys

from tests.faults.counting import Count, good, tell, trial

EACH = 10


def main():
    """Count, and print the table."""
    faults = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    count = Count()
    jobs = -(-faults // EACH)
    for seed in range(first, first + jobs):
        trial(seed, EACH, count)
    for seed in range(first + jobs, first + faults):
        _, plan = good(seed)
        count.jobs += 1
        if not plan.programs:
            count.alarms.append((seed, sorted({f.code for f in plan.findings if f.severity.value == "error"})))
    sys.stdout.write(tell(count) + "\n")


if __name__ == "__main__":
    main()
