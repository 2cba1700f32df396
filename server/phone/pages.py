"""The phone's page and the files that it needs, from the `web` package."""

from importlib.resources import files

from jinja2 import Environment, PackageLoader

__all__ = ["FILES", "phone_file", "phone_html"]

FILES = {
    "phone.css": "text/css; charset=utf-8",
    "phone.js": "text/javascript; charset=utf-8",
    "mark.svg": "image/svg+xml",
}
_TEMPLATES = Environment(loader=PackageLoader("web", "templates"), autoescape=True, trim_blocks=True)


def phone_html(root: str, *, most_bytes: int) -> str:
    """The page. root : the address below which its files lie; most_bytes : of one photograph."""
    return _TEMPLATES.get_template("phone.html").render(root=root, most_bytes=most_bytes)


def phone_file(name: str) -> bytes:
    """One of FILES as it stands in the package."""
    folder = files("web") / "static"
    return (folder / "js" / name if name.endswith(".js") else folder / name).read_bytes()
