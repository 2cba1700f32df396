"""The page and the printable setup sheet: templates of the `web` package, filled in."""

import json
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

__all__ = ["bench_html", "sheet_html"]

_TEMPLATES = Environment(
    loader=PackageLoader("web", "templates"), autoescape=True, trim_blocks=True, lstrip_blocks=True
)


def bench_html(initial: Mapping[str, Any]) -> str:
    """The page, with what it needs to know at the start."""
    # No `<` in it can end the script element that holds it.
    held = Markup(json.dumps(initial).replace("<", "\\u003c").replace("&", "\\u0026"))
    return _TEMPLATES.get_template("bench.html").render(initial=held)


def sheet_html(sheet: Mapping[str, Any], report: Mapping[str, Any], *, version: str, alone: bool = False) -> str:
    """The setup sheet of a plan. alone : with its style inside, for a file that no server serves."""
    style = Markup((files("web") / "static" / "sheet.css").read_text("utf-8")) if alone else None
    page = _TEMPLATES.get_template("sheet.html").render(sheet=sheet, report=report, version=version, style=style)
    return page.lstrip()
