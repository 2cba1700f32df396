"""Every check, in the order in which a fault is cheapest to find: `python -m tests.check`.

Format, lint, strict types, then all tests, the browser's among them. The first step that fails ends the run.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
STEPS = (
    ("ruff", "format", "--check", "."),
    ("ruff", "check", "."),
    ("mypy",),
    ("pytest", "-n", "2", "--dist", "loadfile", "--no-loadscope-reorder"),  # files stay whole, the browser's last
)


def forget_stale_loops() -> None:
    """Compiled loops are kept by their own file's date; one that calls a changed loop would go on with the old."""
    kept = [*(ROOT / "engine").rglob("*.nbi"), *(ROOT / "engine").rglob("*.nbc")]
    newest = max(path.stat().st_mtime for path in (ROOT / "engine").rglob("*.py"))
    if any(path.stat().st_mtime < newest for path in kept):
        for path in kept:
            path.unlink()


def main() -> int:
    forget_stale_loops()
    for step in STEPS:
        sys.stdout.write("$ python -m " + " ".join(step) + "\n")
        sys.stdout.flush()
        done = subprocess.run(
            [sys.executable, "-m", *step, *(sys.argv[1:] if step[0] == "pytest" else ())], cwd=ROOT, check=False
        )
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
