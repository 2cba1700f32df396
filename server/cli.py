"""The command line: `roundwright serve` and `roundwright plan`.

Exit status of `plan`: 0 done, 1 the plan's findings forbid a program, 2 the job is wrong or the results cannot be
written. Of `serve`: 2 where it cannot start. What is wrong is told in one line.
"""

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from server.commands import plan_file, serve

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command that `arguments` (default: the process's own) ask for; gives the exit status."""
    given = _parser().parse_args(arguments)
    if given.command == "plan":
        return plan_file.run(given.job, given.out)
    return serve.run(
        host=given.host, port=given.port, data=given.data, open_file=given.open, browser=not given.no_browser
    )


class _Parser(argparse.ArgumentParser):
    """A parser that tells what is wrong in one line; what is right is in --help."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message} (see {self.prog} --help)\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="roundwright", description="Design engraving jobs for round things.")
    commands = parser.add_subparsers(dest="command", required=True)
    serve_command = commands.add_parser("serve", help="serve the page and its API on this machine")
    serve_command.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s)")
    serve_command.add_argument("--port", type=_port, default=8437, help="port (default: %(default)s; 0: any free one)")
    serve_command.add_argument("--data", type=Path, metavar="DIR", help="where jobs and files are kept")
    serve_command.add_argument("--open", type=Path, metavar="JOB.json", help="a job file to open in the page")
    serve_command.add_argument("--no-browser", action="store_true", help="do not open the browser")
    plan_command = commands.add_parser("plan", help="plan a job file without a server")
    plan_command.add_argument("job", type=Path, metavar="JOB.json")
    plan_command.add_argument("-o", "--out", type=Path, default=Path(), metavar="DIR", help="where the results go")
    return parser


def _port(text: str) -> int:
    if not re.fullmatch("[0-9]{1,5}", text) or int(text) >= 65536:
        raise argparse.ArgumentTypeError("a port is a whole number from 0 to 65535")
    return int(text)


if __name__ == "__main__":
    sys.exit(main())
