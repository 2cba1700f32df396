"""Write the golden programs anew: `python -m tests.golden.refresh`. Never in CI; read the change before keeping it."""

import os
import sys

import engine
from tests.golden.sample import NAMES, load
from tests.golden.text import keep


def main():
    if os.environ.get("CI"):
        sys.exit("golden programs are not refreshed in CI")
    for name in NAMES:
        job, assets = load(name)
        keep(name, engine.plan(job, assets).programs["engrave"].text.decode("ascii"))
        sys.stdout.write(f"{name}\n")


if __name__ == "__main__":
    main()
