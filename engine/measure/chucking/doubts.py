"""What is told of points that a fit did not rest on."""

from engine.kernel.findings import Finding, Severity
from engine.measure.chucking.fitting import Fit

__all__ = ["left_out", "warning"]


def warning(code: str, message: str, advice: str) -> Finding:
    """A finding to be acknowledged."""
    return Finding(severity=Severity.WARNING, code=code, message=message, advice=advice)


def left_out(fit: Fit, skin: str) -> list[Finding]:
    """`points-left-out` for wild points, `points-beyond` for those past the stations of `skin`, named in words."""
    made, points = [], len(fit.used)
    wild, beyond = int((~fit.used & ~fit.beyond).sum()), int(fit.beyond.sum())
    if wild:
        text = f"{wild} of {points} points lie too far from {skin} to be believed and were left out"
        made.append(
            warning("points-left-out", text, "look at them: dust, a loose probe, or a place that was worked on")
        )
    if beyond:
        text = f"{beyond} of {points} points lie beyond {skin} and were left out"
        made.append(warning("points-beyond", text, "probe within the stations that were measured"))
    return made
