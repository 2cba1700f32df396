"""A mesh becomes a measured skin: even stations and angles, holes filled, ends cut back, an error for each place.

The radius is the mesh's own (no smoothing). What cannot be held by r(x, theta) is told: undercuts, holes, an inner
skin, parts that hang loose, ends that close or face along the axis, an unlikely unit, a doubtful axis.
"""

from dataclasses import replace

import numpy as np
from scipy import ndimage

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding
from engine.kernel.units import INCH_MM, TURN_RAD
from engine.measure.extent import extent_told
from engine.measure.measured import Measured, even_angles
from engine.measure.scan.axis import Axis, find_axis, open_scan
from engine.measure.scan.facets import RMS_SHARE, Facets
from engine.measure.scan.holes import filled, miss_mm
from engine.measure.scan.mesh import Mesh, mesh_fault
from engine.measure.scan.parts import parts_told
from engine.measure.scan.polar import Rays, polar
from engine.measure.scan.telling import ends_told, holes_told, twice_told, undercuts_told, wall_told

__all__ = ["UNITS_MM", "scan_skin"]

UNITS_MM = (1.0, INCH_MM)
ANGLES = 360
STATIONS = 241  # where no step is asked for
FINEST_MM = 0.1  # step that is chosen unasked
LEAST_RADIUS_MM = 0.5  # no end thinner than that is engraved
LEAST_RADIUS = 0.05  # nor one thinner than this share of the greatest radius, on a small piece
STEEPEST_COS = float(np.cos(np.radians(80.0)))  # of an end's skin: a radial tool cannot follow a steeper one
STEEP_SHARE = 0.01  # of a ring may be steeper: stray facets
LEAST_SHARE = 0.5  # of a ring, and of the whole, that has to be met
WHOLE_SHARE = 0.97  # of the skin has to be met for an axis found by inertia to be believed
LEAST_STATIONS = 5  # that carry a cubic with not-a-knot ends
TWICE_MM = 1.0  # passes of a scanner lie nearer to one another; further off it is the wall of a vessel; no source
MIXED = 0.1  # share of facets that face otherwise than most: beyond it the file's senses say nothing
FLOAT32 = 1e-6  # of the greatest extent: what the digits of a file hold
INSET = 1e-5  # of the length: an end's face that is square to the axis but for rounding is left outside
SPREAD = 5  # cells over which the facets' error is averaged


def scan_skin(
    mesh: Mesh,
    axis: Axis | None = None,
    *,
    unit_mm: float = 1.0,
    step_mm: float | None = None,
    angles: int = ANGLES,
) -> Measured:
    """The skin of a mesh about an axis (in mm; found where none is given), x and theta of the axis frame.

    unit_mm : what one of the file's units is, 1 or 25.4. step_mm : of the stations; the mesh's length is divided evenly
    into steps no longer. angles : rays a turn.

    Raises
    ------
    BlankError: another unit, no grid, more than half of the skin is not met, or nothing is left between the ends.
    """
    if unit_mm not in UNITS_MM:
        raise BlankError("the unit is neither mm nor inch", where="/unit", hint="ask who made the scan")
    whole = mesh.scaled(float(unit_mm))
    found = find_axis(whole) if axis is None else axis
    x = _stations(whole, found, step_mm)
    every = polar(whole, found, x, angles)
    facets = Facets.of(whole)
    rays, lean, twice = _outside(every, facets, found)
    first, last, met = _held(rays, lean)
    kept, twice = _cut(rays, first, last), twice[first : last + 1]
    if met.mean() < LEAST_SHARE:
        raise mesh_fault(
            f"rays from the axis miss {100 * (1 - met.mean()):.0f} % of the piece", "lay the axis through the piece"
        )
    radius, sigma, error = _grid(kept, met, facets, lean[first : last + 1], float(whole.extent.max()))
    sigma = np.hypot(sigma, twice / np.sqrt(3.0))  # the skin may lie anywhere between the two, evenly
    findings = (
        *found.findings,
        *_missing(found, float(met.mean())),
        *parts_told(whole, found.within(whole.vertices), every, rays),
        *extent_told(float(whole.extent.max()), of="scan", pointer="/unit"),
        *ends_told(x, first, last),
        *holes_told(kept, met, sigma),
        *undercuts_told(kept),
        *twice_told(kept, twice),
        *wall_told(kept, twice),
    )
    how = (
        ("mesh", f"{len(mesh.faces):,} triangles, 1 unit is {unit_mm:g} mm"),
        ("axis", "found by the inertia of the surface" if axis is None else "given"),
        ("grid", f"{len(kept.x_mm)} stations {x[1] - x[0]:.3g} mm apart, {angles} angles, rays meet triangles exactly"),
        ("smoothing", "none: the radius is that of the mesh"),
        ("error", error),
    )
    return Measured(x_mm=kept.x_mm, radius_mm=radius, sigma_mm=sigma, known=met, findings=findings, how=how)


def _missing(axis: Axis, share: float) -> tuple[Finding, ...]:
    """A doubt about a found axis where rays miss the piece, if it has none yet."""
    if not axis.found or axis.findings or share >= WHOLE_SHARE:
        return ()
    return (open_scan(f"{100 * (1 - share):.0f} % of the rays miss it"),)


def _stations(mesh: Mesh, axis: Axis, step_mm: float | None) -> Floats:
    along = axis.within(mesh.used)[:, 0]
    start, end = float(along.min()), float(along.max())
    if not end > start:
        raise mesh_fault("the mesh has no length along its axis", "turn the axis")
    step = max((end - start) / (STATIONS - 1), FINEST_MM) if step_mm is None else step_mm
    if not (0 < step < np.inf) or (end - start) / step > 1e6:
        raise BlankError("the step is no length above 0", where="/step_mm", hint="try 0.5")
    inset = INSET * (end - start)
    return np.linspace(start + inset, end - inset, max(int(np.ceil((end - start) / step - 1e-9)) + 1, 2))


def _outside(rays: Rays, facets: Facets, axis: Axis) -> tuple[Rays, Floats, Floats]:
    """Rays that met the outer skin; (m, n) cosine, from 0, between ray and normal; (m, n) mm to another skin below.

    Facets of which many face otherwise than most tell no outside: then every ray stands, and none met a skin twice.
    """
    lean, second = (_lean(face, facets, axis) for face in (rays.face, rays.second_face))
    sense = 1.0 if (lean > 0).sum() >= (lean < 0).sum() else -1.0
    if (sense * lean < 0).sum() > MIXED * rays.met.sum():
        return rays, np.abs(lean), np.zeros(lean.shape)
    return _outer(rays, sense * lean), np.abs(lean), _twice_mm(rays, sense * lean, sense * second)


def _lean(face: Ints, facets: Facets, axis: Axis) -> Floats:
    """(m, n) cosine between the ray and the normal of the facet it met, below 0 where that faces the axis.

    0 where none was met, -1.
    """
    normal = facets.normal @ axis.frame.T
    theta = even_angles(face.shape[1])
    met = normal[np.maximum(face, 0)]
    return np.where(face >= 0, met[..., 1] * np.cos(theta) + met[..., 2] * np.sin(theta), 0.0)


def _outer(rays: Rays, lean: Floats) -> Rays:
    """Rays that met an inner skin through a hole of the outer one met nothing."""
    inner = rays.met & (lean < 0)
    return replace(rays, radius_mm=np.where(inner, 0.0, rays.radius_mm), face=np.where(inner, -1, rays.face))


def _twice_mm(rays: Rays, lean: Floats, second: Floats) -> Floats:
    """(m, n) from the skin to another close below it that faces outwards too; 0 elsewhere.

    lean, second : (m, n) cosines between the ray and the two normals, above 0 outwards.
    """
    apart = rays.radius_mm - rays.second_mm
    return np.where((lean > 0) & (second > 0) & (apart < TWICE_MM), apart, 0.0)


def _held(rays: Rays, lean: Floats) -> tuple[int, int, Bools]:
    """First and last station that can be held, and where the skin is known from the one to the other."""
    met = rays.met
    share = met.mean(axis=1)
    least = min(LEAST_RADIUS_MM, LEAST_RADIUS * float(rays.radius_mm.max()))
    thin = np.where(met, rays.radius_mm, np.inf).min(axis=1) < least
    steep = met & (lean < STEEPEST_COS)
    held = np.flatnonzero((share >= LEAST_SHARE) & ~thin & (steep.mean(axis=1) <= STEEP_SHARE))
    if len(held) == 0 or held[-1] - held[0] + 1 < LEAST_STATIONS:
        raise mesh_fault(
            f"fewer than {LEAST_STATIONS} stations of the mesh can be held as a radius about the axis",
            "check the unit, lay the axis through the piece, or take a smaller step",
        )
    first, last = int(held[0]), int(held[-1])
    known = met[first : last + 1].copy()
    for end, station in ((0, first), (-1, last)):
        known[end] &= ~steep[station]
    return first, last, known


def _cut(rays: Rays, first: int, last: int) -> Rays:
    part = slice(first, last + 1)
    names = ("x_mm", "radius_mm", "face", "times", "second_mm", "third_mm", "second_face")
    return replace(rays, **{name: getattr(rays, name)[part] for name in names})


def _grid(rays: Rays, met: Bools, facets: Facets, lean: Floats, extent: float) -> tuple[Floats, Floats, str]:
    """Radius and sigma (m, n) with the holes filled, and what the error is made of."""
    step = float(rays.x_mm[1] - rays.x_mm[0])
    arc = float(np.median(rays.radius_mm[met])) * TURN_RAD / met.shape[1]
    chord = facets.chord_mm[np.maximum(rays.face, 0)] * RMS_SHARE / np.maximum(lean, STEEPEST_COS)
    near = _mean(np.where(met, chord**2, 0.0)) / np.maximum(_mean(met.astype(np.float64)), 1e-9)
    sigma = np.sqrt(np.maximum(near, 0.0) + (FLOAT32 * extent) ** 2)
    words = f"facets {np.sqrt((sigma[met] ** 2).mean()):.3g} mm rms by the angles between neighbours"
    radius = rays.radius_mm
    if not met.all():
        radius = filled(radius, met, step, arc)
        miss = miss_mm(radius, met, step, arc)
        sigma = np.where(met, sigma, np.hypot(np.median(sigma[met]), miss))
        words += f"; fillings up to {sigma[~met].max():.3g} mm, learnt by guessing known places as far from others"
        if not (radius > 0).all():
            raise mesh_fault("a hole is too large to be filled", "scan that side, or move the axis to the middle")
    return radius, sigma, words


def _mean(values: Floats) -> Floats:
    return np.asarray(ndimage.uniform_filter(values, SPREAD, mode=("nearest", "wrap")))
