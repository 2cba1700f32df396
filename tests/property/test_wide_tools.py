"""Tools as wide as the art in the styles that draw by tone: what they open beside it is told, and withholds nothing."""

import pytest

from tests.property.whole_jobs import ASSETS, MIDDLE, art, document, planned

RING = b"""<svg xmlns="http://www.w3.org/2000/svg" width="16mm" height="16mm" viewBox="0 0 16 16">
<path fill-rule="evenodd" d="M0 0H16V16H0Z M4 4H12V12H4Z"/></svg>"""
DISC = b"""<svg xmlns="http://www.w3.org/2000/svg" width="8mm" height="8mm" viewBox="0 0 8 8">
<circle cx="4" cy="4" r="4"/></svg>"""
ART = {"ring": (RING, 16), "disc": (DISC, 8), "leaf": (ASSETS["leaf"], 16)}
TOOLS = {
    "cone of 178.9": ({"form": "cone", "diameter_mm": 10, "tip_mm": 0.02, "angle_deg": 178.9}, 0.05),
    "cone of 120": ({"form": "cone", "diameter_mm": 6, "tip_mm": 0.1, "angle_deg": 120}, 0.9),
    "ball of 50": ({"form": "ball", "diameter_mm": 50}, 0.5),
    "ball of 10": ({"form": "ball", "diameter_mm": 10}, 0.2),
}


@pytest.mark.parametrize("blank", ["cylinder", "ovoid"])
@pytest.mark.parametrize("source", ART)
@pytest.mark.parametrize("tool", TOOLS)
@pytest.mark.parametrize("style", ["stipple", "relief"])
def test_a_wide_tool_gives_a_program_whose_tip_keeps_to_the_art(style, tool, source, blank):
    """The proof knows nothing of dots and rows: `off-art`, `deeper-than-asked` and any other error withhold it."""
    form, depth = TOOLS[tool]
    svg, wide = ART[source]
    ridges = {"scallop_mm": 0.4 * depth} if style == "relief" else {}
    piece = art(source, {"style": style} | ridges, depth_mm=depth, width_mm=wide, x_mm=MIDDLE[blank], tool="wide")
    told = document(blank, piece) | {"tools": [{"id": "wide"} | form]}
    _, plan = planned(told, **{source: svg})
    assert [(f.code, f.message) for f in plan.findings if f.severity.value == "error"] == []
    assert "engrave" in plan.programs
