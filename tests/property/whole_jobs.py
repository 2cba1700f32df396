"""Whole jobs of the fair for the tests of this folder: their documents, and the carved field that the proof leaves."""

from io import BytesIO

import numpy as np
from PIL import Image

import engine
from tests.blank.skins import gourd_csv

LEAF = b"""<svg xmlns="http://www.w3.org/2000/svg" width="24mm" height="24mm" viewBox="0 0 48 48">
<path d="M24 2 C36 8 44 20 40 34 C34 42 18 46 8 40 C4 28 10 10 24 2 Z M24 14 L20 32 L30 30 Z" fill-rule="evenodd"/>
<circle cx="42" cy="42" r="4"/></svg>"""
BAR = b"""<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="2mm" viewBox="0 0 30 2">
<path d="M0 0 H30 V2 H0 Z"/></svg>"""
SEED = b"""<svg xmlns="http://www.w3.org/2000/svg" width="12mm" height="4mm" viewBox="0 0 12 4">
<path d="M0 1.9 H8.1 A2 2 0 1 1 8.1 2.1 H0 Z"/></svg>"""
WREATH = b"""<svg xmlns="http://www.w3.org/2000/svg" width="12mm" height="12mm" viewBox="0 0 12 12">
<circle cx="6" cy="6" r="5" fill="none" stroke="#000"/></svg>"""
STATIONS = ((0, 30), (12, 44), (30, 61), (55, 61), (90, 28))
BLANKS = {
    "cylinder": {"shape": "cylinder", "diameter_mm": 50, "length_mm": 80},
    "cone": {"shape": "cone", "diameter_mm": 44, "end_diameter_mm": 60, "length_mm": 80},
    "ovoid": {"shape": "ovoid", "length_mm": 60, "breadth_mm": 46, "shift_mm": 2, "quarter_diameter_mm": 38},
    "stations": {"shape": "stations", "stations": [{"x_mm": x, "diameter_mm": d} for x, d in STATIONS]},
    "grid": {"shape": "grid", "asset": "table"},
}
MIDDLE = {"cylinder": 40.0, "cone": 40.0, "ovoid": 30.0, "stations": 40.0, "grid": 60.0}
TOOLS = [
    {"id": "cone", "form": "cone", "diameter_mm": 3.175, "tip_mm": 0.02, "angle_deg": 60},
    {"id": "ball", "form": "ball", "diameter_mm": 1.0},
    {"id": "flat", "form": "flat", "diameter_mm": 0.4},
    {"id": "blunt", "form": "cone", "diameter_mm": 3.175, "tip_mm": 0.1, "angle_deg": 60},
]
ASSETS = {"leaf": LEAF, "bar": BAR, "seed": SEED, "wreath": WREATH, "table": gourd_csv()}
KINDS = dict.fromkeys(ASSETS, "vector") | {"table": "table"}


def art(source, style, *, depth_mm, width_mm=None, x_mm, angle_deg=30, tool="cone", **more):
    """One piece of art of a document. source : an asset's id or a text; style : the marking; more : other fields."""
    placement = {"x_mm": x_mm, "angle_deg": angle_deg} | ({} if width_mm is None else {"width_mm": width_mm})
    placement |= more.pop("placement", {})
    named = {"asset": source} if isinstance(source, str) else source
    return named | {
        "placement": placement,
        "marking": style,
        "depth_mm": depth_mm,
        "tool": tool,
        "direction": "any",
        **more,
    }


def document(blank, *pieces, **more):
    """A job with these pieces of art on one of the blanks, and the tools that they name."""
    named = {tool for piece in pieces for tool in (piece["tool"], piece["marking"].get("clearing_tool"))}
    return {
        "schema": "roundwright.job/1",
        "name": "Seed-swap fair",
        "blank": BLANKS[blank] | {"radius_error_mm": 0},
        "tools": [tool for tool in TOOLS if tool["id"] in named],
        "artwork": list(pieces),
        **more,
    }


def planned(told, **pictures):
    """The job and its plan. pictures : further assets, PNG by id."""
    known = engine.Known(assets=KINDS | dict.fromkeys(pictures, "raster"))
    job = engine.read_job(told, known=known)
    return job, engine.plan(job, ASSETS | pictures)


def codes(plan):
    """(severity, code) of every finding."""
    return {(f.severity.value, f.code) for f in plan.findings}


def picture(dark):
    """PNG: pixels look as dark as `dark` (rows, columns), 0 to 1, in linear light; stored as sRGB, IEC 61966-2-1."""
    light = 1.0 - np.asarray(dark)
    stored = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    out = BytesIO()
    Image.fromarray(np.rint(255 * stored).astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


def carved(plan, job):
    """Every cell of the carved field: (n, 2) its place on the sheet of the first piece of art, equidistant, by closed
    form along the blank's mean profile; (n,) its depth, and its area as a share of all.
    """
    x, theta = plan.preview["carved_x"].astype(float), plan.preview["carved_theta"].astype(float)
    where, skin = job.items[0].placement, job.blank.skin(ASSETS)
    ring = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    fine = np.linspace(*skin.x_range_mm, 8_001)[1:-1]
    tall = np.hypot(1.0, skin.slopes(fine[:, None], ring)[0].mean(axis=1))
    way = np.concatenate([[0.0], np.cumsum(0.5 * (tall[1:] + tall[:-1]) * np.diff(fine))])
    along = np.interp(x, fine, way) - np.interp(where.x_mm, fine, way)
    mean = skin.radius(np.full(len(ring), where.x_mm), ring).mean()
    around = mean * (np.remainder(theta - np.radians(where.angle_deg) + np.pi, 2 * np.pi) - np.pi)
    places = np.stack(np.meshgrid(around, along), axis=-1).reshape(-1, 2)
    radius, (r_x, r_theta) = skin.radius(x[:, None], theta), skin.slopes(x[:, None], theta)
    area = np.sqrt(radius**2 * (1 + r_x**2) + r_theta**2) * np.ones((len(x), len(theta)))
    return places, plan.preview["carved_depth"].astype(float).ravel(), area.ravel() / area.sum()
