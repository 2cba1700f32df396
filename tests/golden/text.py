"""Golden programs on disk, packed so that a diff of the repository stays readable; and a line taken apart."""

import gzip
import re
from pathlib import Path

HERE = Path(__file__).resolve().parent / "programs"


def golden(name):
    """The stored program."""
    return gzip.decompress((HERE / f"{name}.ngc.gz").read_bytes()).decode("ascii")


def keep(name, text):
    """Store a program; the same text gives the same bytes."""
    HERE.mkdir(exist_ok=True)
    (HERE / f"{name}.ngc.gz").write_bytes(gzip.compress(text.encode("ascii"), mtime=0))


def split(line):
    """Letters, numbers and the step of each number's last decimal."""
    words = re.findall(r"([A-Z])(-?\d+\.?\d*)", line)
    steps = [10.0 ** -len(number.partition(".")[2]) for _, number in words]
    return [letter for letter, _ in words], [float(number) for _, number in words], steps
