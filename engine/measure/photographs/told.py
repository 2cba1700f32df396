"""What a person is told beside the skin: corrections that are larger than they should be, photographs that agree with
no skin, places that were not seen, and in words how the skin was made.
"""

import math

import numpy as np

from engine.kernel.arrays import Bools, Floats
from engine.kernel.findings import Finding, Severity, Where
from engine.kernel.units import TURN_RAD
from engine.measure.photographs.camera import Setup
from engine.measure.photographs.corrections import FEW, Corrections
from engine.measure.photographs.fit import Linear, Problem, State
from engine.measure.photographs.hollows import Hollow
from engine.measure.photographs.sureness import Sureness

__all__ = [
    "about_angles",
    "about_edges",
    "about_places",
    "about_setup",
    "arcs_unseen",
    "in_words",
    "lens_in_words",
    "places_known",
]

_RUN = 3  # photographs on either side of a slip
_PARTED = 8.0  # standard errors between both sides: chance over all places of a slip gives hardly half
_FAR = 3.0  # prior standard deviations, past which a correction is told
_FEWEST = 4  # photographs, below which a section that is not round is a guess
_FINE = 24  # photographs from which eight ribs are seen: no more is asked of a piece that has few
_WIDEST_DEG = 46.0  # of the turn without an outline
_NAMES = {
    "shift": ("axis line moved", "px", 1.0),
    "roll": ("axis line turned", "°", math.degrees(1.0)),
    "pitch": ("camera leaning", "°", math.degrees(1.0)),
    "camera": ("camera's distance longer by", "%", 100.0),
    "lens": ("lens' k1 more by", "", 1.0),
    "steps": ("rotary's steps longer by", "%", 100.0),
    "turn": ("rotary angles", "°", math.degrees(1.0)),
    "across": ("camera across the axis", "mm", 1.0),
    "along": ("camera along the axis", "mm", 1.0),
    "away": ("camera nearer and farther", "mm", 1.0),
}


def _warning(code: str, message: str, advice: str, where: Where | None = None, *, error: bool = False) -> Finding:
    severity = Severity.ERROR if error else Severity.WARNING
    return Finding(severity=severity, code=code, message=message, advice=advice, where=where or Where())


def about_setup(corrections: Corrections) -> list[Finding]:
    """`axis-moved` and `camera-distance`; `angles-moved`, `camera-moved`, `slipped` with their photograph."""
    now = corrections
    out = []
    shift, roll = now.one("shift"), now.one("roll")
    if abs(shift) > _FAR * now.sigma["shift"] or abs(roll) > _FAR * now.sigma["roll"]:
        told = f"the photographs put the axis {shift:.1f} px and {math.degrees(roll):.2f}° from the marked line"
        out.append(_warning("axis-moved", told, "mark the axis again", Where(pointer="/axis")))
    if abs(now.one("steps")) > _FAR * now.sigma["steps"]:
        told = f"every step of the rotary was {100.0 * now.one('steps'):.1f} % longer than told"
        out.append(_warning("angles-moved", told, "check the rotary's steps a turn", Where(pointer="/photos")))
    out += _each_moved(now, ("turn",), "angles-moved", "check this photograph's angle and the rotary's play")
    away = now.one("camera")
    if abs(away) > _FAR * now.sigma["camera"]:
        told = (
            f"the photographs put the camera {100.0 * abs(away):.0f} % {'farther' if away > 0 else 'nearer'} than told"
        )
        out.append(_warning("camera-distance", told, "measure from the lens to the axis", Where(pointer="/camera_mm")))
    again = "fix the stand, or take this photograph again"
    out += _each_moved(now, ("across", "along", "away"), "camera-moved", again)
    return out + [one for name in now.each for one in _slipped(now, name)]


def _slipped(now: Corrections, name: str) -> list[Finding]:
    """`slipped` : where the photographs before one and from it on part by far more than they scatter."""
    value = now.many(name)
    best, at, by = 0.0, 0, 0.0
    for k in range(_RUN, len(value) - _RUN + 1):
        before, after = value[:k], value[k:]
        scatter = math.sqrt((before.var() * k + after.var() * len(after)) / (len(value) - 2))
        apart = float(after.mean() - before.mean())
        sure = abs(apart) / (scatter * math.sqrt(1.0 / k + 1.0 / len(after)) + 1e-12)
        if sure > best:
            best, at, by = sure, k, apart
    if best < _PARTED or abs(by) < 0.5 * now.stated[name]:
        return []
    words, unit, per = _NAMES[name]
    told = f"from photograph {at + 1} on: {words} {per * by:+.2f} {unit}; the piece slipped, or the stand was moved"
    advice = "hold it anew and take all photographs again, or measure with those of one side of the slip"
    return [_warning("slipped", told, advice, Where(pointer=f"/photos/{at}"))]


def _each_moved(now: Corrections, names: tuple[str, ...], code: str, advice: str) -> list[Finding]:
    out = []
    for name in names:
        if name not in now.each:
            continue
        value, limit = now.many(name), _FAR * now.stated[name]
        words, unit, per = _NAMES[name]
        for k in np.flatnonzero(np.abs(value) > limit):
            told = f"photograph {k + 1}: {words} {per * value[k]:+.2f} {unit}, more than it should by far"
            out.append(_warning(code, told, advice, Where(pointer=f"/photos/{k}")))
    return out


def about_angles(factor: float) -> list[Finding]:
    """`angles-otherwise`, where the outlines agree with angles that are the told ones times -1 or 2."""
    if factor == 1.0:
        return []
    told = {
        -1.0: "the outlines agree if the rotary turned the other way, the axis was marked from the far end, or the "
        "pictures are mirrored: the skin here is a mirror image",
        2.0: "the outlines agree if every angle was twice what is told",
    }[factor]
    advice = "see which it was; the direction and the steps of the rotary, and which mark is x = 0"
    return [_warning("angles-otherwise", told, advice, Where(pointer="/photos"), error=factor < 0.0)]


def about_edges(problem: Problem, row: Linear) -> list[Finding]:
    """`photos-disagree`, `photo-disagrees` and `edge-outliers`."""
    setup, points = problem.setup, problem.points
    gap, touching = row.touch.gap_mm, row.touch.touching
    out = []
    rms = float(np.sqrt(np.mean(gap[row.use] ** 2)))
    if max(rms, 1.5 * row.scale_mm) > 4.0 * setup.edge_sigma_px * setup.mm_per_px + 0.05:
        advice = "check the angles' direction and step, the camera's distance and the axis points"
        told = f"the edges lie {rms:.2f} mm from any one skin"
        out.append(_warning("photos-disagree", told, advice, Where(pointer="/photos"), error=rms > 0.5))
    wild = row.trust < 0.3
    for k in range(points.photos):
        own = touching & (points.photo == k)
        if points.photos > 1 and own.any() and (wild & own).sum() > 0.4 * own.sum():
            told = f"photograph {k + 1} agrees with no skin that the others agree on"
            advice = "look at its edge and its angle, or leave it out"
            out.append(_warning("photo-disagrees", told, advice, Where(pointer=f"/photos/{k}")))
    share = float((wild & touching).sum()) / max(int(touching.sum()), 1)
    if share > 0.1:
        told = f"{100.0 * share:.0f} % of the edge points were left out as outliers"
        out.append(_warning("edge-outliers", told, "look at the found edges", Where(pointer="/photos")))
    return out


def about_places(problem: Problem, row: Linear, hollow: list[Hollow]) -> list[Finding]:
    """`flat-or-hollow` for each place; what the number of photographs and the camera leave open."""
    out = []
    for one in hollow:
        x, theta = (one.x0_mm + one.x1_mm) / 2.0, math.degrees(one.theta0_rad + one.theta1_rad) / 2.0 % 360.0
        told = (
            f"x {one.x0_mm:.0f} to {one.x1_mm:.0f} mm, angle {math.degrees(one.theta0_rad):.0f}° to "
            f"{math.degrees(one.theta1_rad):.0f}°: no edge shows the skin over {one.chord_mm:.0f} mm; flat, or hollow "
            "to an unknown depth"
        )
        where = Where(x_mm=x, angle_deg=theta)
        advice = "measure it with a probe or callipers, or keep the art off"
        out.append(_warning("flat-or-hollow", told, advice, where))
    for a, b in arcs_unseen(problem, row):
        told = f"no outline over {math.degrees(b - a):.0f}° of the turn"
        where = Where(angle_deg=math.degrees((a + b) / 2.0) % 360.0)
        out.append(_warning("turn-not-covered", told, "take photographs all round", where))
    if 1 < problem.points.photos < FEW:
        told = f"{problem.points.photos} photographs: lobes, ribs and flats between their outlines are not seen"
        advice = f"take {FEW} or more, evenly over the turn, of a piece that is not round"
        none = problem.points.photos < _FEWEST
        out.append(_warning("few-photographs", told, advice, Where(pointer="/photos"), error=none))
    if FEW <= problem.points.photos < _FINE:
        told = f"ribs, flutes and facets of more than {problem.points.photos // 3} a turn would not be seen"
        out.append(Finding(severity=Severity.NOTE, code="ribs-unseen", message=told, where=Where(pointer="/photos")))
    if problem.points.photos == 1:
        told = "one photograph: the piece is taken to be round and to run true"
        out.append(Finding(severity=Severity.NOTE, code="round-assumed", message=told))
    if problem.setup.camera_mm is None:
        told = "the camera's distance is not told: the piece is taken to be seen from far away"
        advice = "measure from the lens to the axis"
        where = Where(pointer="/camera_mm")
        out.append(_warning("camera-far-assumed", told, advice, where))
    return out


def arcs_unseen(problem: Problem, row: Linear) -> list[tuple[float, float]]:
    """(from, to) rad of the parts of a turn, wider than 46 degrees, in which no photograph shows an outline."""
    points = problem.points
    if points.photos == 1:
        return []
    line = points.photo[row.use] * 2 + (points.side[row.use] > 0)
    sums = np.zeros(points.photos * 2, np.complex128)
    np.add.at(sums, line, np.exp(1j * row.touch.normal_rad[row.use]))
    seen = np.sort(np.mod(np.angle(sums[np.abs(sums) > 0]), TURN_RAD))
    gap = np.diff(np.concatenate([seen, seen[:1] + TURN_RAD]))
    return [(float(seen[k]), float(seen[k] + gap[k])) for k in np.flatnonzero(gap > math.radians(_WIDEST_DEG))]


def in_words(state: State, sure: Sureness, row: Linear) -> tuple[tuple[str, str], ...]:
    """Smoothing, residuals, each correction with its sigma, the parts of the error."""
    now = state.corrections
    smoothing = f"{state.smoothing.how} (weights: {state.smoothing.along:g} along, {state.smoothing.around:g} around)"
    out = [
        ("smoothing", smoothing),
        ("edge points", f"{int(row.use.sum())}, {1000.0 * sure.rms_mm:.1f} µm from the skin, {sure.free:.0f} settled"),
    ]
    for name in now.shared:
        words, unit, per = _NAMES[name]
        value, spread = per * now.one(name), per * float(now.spread[now.place(name)][0])
        out.append((words, f"{_known_to(value, spread)} {unit}".strip()))
    for name in now.each:
        words, unit, per = _NAMES[name]
        off, usual = per * now.many(name), per * float(np.median(now.spread[now.place(name)]))
        rms, most = float(np.sqrt(np.mean(off**2))), int(np.argmax(np.abs(off)))
        farthest = _known_to(float(off[most]), usual).split(" ")[0]
        told = f"off by {_known_to(rms, usual)} {unit}; photograph {most + 1} by {farthest} {unit}"
        out.append((words, told))
    parts = ", ".join(f"{name} {1000.0 * part:.1f}" for name, part in sure.parts_mm.items())
    out.append(("error's parts, µm", parts))
    return tuple(out)


def _known_to(value: float, spread: float) -> str:
    """A value and its error, both to the error's first figure."""
    places = max(0, -math.floor(math.log10(max(spread, 1e-9))))
    return f"{value:.{places}f} ± {spread:.{places}f}".replace("-", "−")


def places_known(problem: Problem, row: Linear, unknown: Bools, x_mm: Floats, theta_rad: Floats) -> Bools:
    """(m, n) False beyond the seen ends, in unseen parts of the turn, and where `unknown` (m, n)."""
    x = row.touch.x_mm[row.use]
    inside = (x_mm >= x.min() - 0.5) & (x_mm <= x.max() + 0.5)
    out = ~unknown & inside[:, None]
    for a, b in arcs_unseen(problem, row):
        out &= np.mod(theta_rad - a, TURN_RAD)[None, :] >= b - a
    return np.asarray(out)


def lens_in_words(setup: Setup) -> tuple[str, str]:
    """What the lens was taken to be."""
    if setup.lens is None:
        return "lens", "not told: taken as free of distortion"
    return "lens", f"k1 {setup.lens.k1:.4f} ± {setup.lens.k1_sigma:.4f}, k2 {setup.lens.k2:.4f}"
