"""Jobs of several pieces for the tests of arranging: discs, a tile and borders on the blanks of the house."""

import engine
from engine.kernel.tolerance import Tolerance
from engine.pieces import pieces_of
from engine.plan import silent


def svg(width, height, inner):
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{inner}</svg>'.encode()


ASSETS = {
    "disc": svg(20, 20, '<circle cx="10" cy="10" r="6"/>'),
    "wreath": svg(10, 10, '<circle cx="5" cy="5" r="4" fill="none" stroke="#000"/>'),
    "square": svg(10, 10, '<rect width="10" height="10"/>'),
    # A line from the middle of the left side to the middle of the right, and a square above it.
    "tile": svg(10, 8, '<path d="M0 4 C3 1 7 7 10 4" fill="none" stroke="#000" stroke-width=".01"/>'
                       '<rect x="4" y="1" width="2" height="1.5"/>'),
}  # fmt: skip
KNOWN = engine.Known(assets=dict.fromkeys(ASSETS, "vector"))
CYLINDER = {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90, "radius_error_mm": 0}
CONE = {"shape": "cone", "diameter_mm": 60, "end_diameter_mm": 40, "length_mm": 60}
OVOID = {"shape": "ovoid", "length_mm": 57, "breadth_mm": 44, "shift_mm": 2, "quarter_diameter_mm": 36.5}


def art(source, x_mm=None, angle_deg=0.0, *, style="hatch", placement=(), **more):
    """One piece of a document: an asset's name or a border."""
    where = {} if x_mm is None else {"placement": {"x_mm": x_mm, "angle_deg": angle_deg, **dict(placement)}}
    named = {"asset": source} if isinstance(source, str) else {"border": source}
    return {**named, **where, "marking": {"style": style}, "depth_mm": 0.1, **more}


def job_of(*artwork, blank=None):
    blank = CYLINDER if blank is None else blank
    document = {"schema": "roundwright.job/1", "name": "Fair", "blank": blank, "artwork": list(artwork)}
    return engine.read_job(document, known=KNOWN)


def laid(*artwork, blank=None):
    """The pieces and what was found about them."""
    job = job_of(*artwork, blank=blank)
    return pieces_of(job, job.blank.skin({}), ASSETS, Tolerance(), silent)


def planned(*artwork, blank=None):
    return engine.plan(job_of(*artwork, blank=blank), ASSETS)


def of(findings, code):
    return [finding for finding in findings if finding.code == code]
