"""Photographs of a turned piece by an independent ray caster; shares no code with what measures them.

A pixel's ray hits when somewhere along it the distance from the axis is below the piece's radius (marched and refined
on rho - r; 4 x 4 rays in a pixel that the edge crosses). Light is added up in linear intensities (uneven paper, a soft
shadow beside the piece, shading, speckle, highlights, lens blur, sensor noise), coded to sRGB, sharpened as cameras do,
and passed through JPEG.

Frames (mm; radians inside, degrees in `Setting`)
    piece: axis of rotation = +X, station x; theta right-handed about +X.
    lab:   X along the axis, Y to the right of the picture when +X is up, Z from the axis to the camera. A skin point
           (x, theta, r) seen with the angle beta facing the camera stands at (x, r sin(theta - beta), r cos(..)).
    picture: pixel corners at integers, y down. `x_axis` says where +X points: "right", "up", or degrees
           counter-clockwise from right.
    lens:  with rho = distance from the picture's middle over half the picture's diagonal, of the point that a perfect
           lens would give, the point stands at middle + (perfect - middle) (1 + k1 rho^2).
"""

import io
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from PIL import Image
from scipy import ndimage

from engine.kernel.compiled import compiled
from tests.measure.photographs.pieces import LARGEST_MM, LENGTH_MM, radius

CELL = 8  # px between the rays of the first, coarse pass; width and height are multiples of it


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Camera, light and what may go wrong. `wobble_mm`: Gaussian shift of the camera along each of X, Y, Z, drawn
    from the photograph's seed. `gloss`: highlights, one broad and a narrow one at the limb, in parts of the paper's
    light. `sheen`: share of a mirror's grazing reflection of the paper (1 = polished). `sharpen`: amount of an unsharp
    mask of `sharpen_px`. `hardware_mm`: radius of the bars that hold the piece, 0 for none."""

    camera_mm: float = 300.0
    width: int = 4000
    height: int = 3000
    px_per_mm: float = 30.0
    x_axis: str | float = "right"
    pitch_deg: float = 0.0  # turns the optical axis towards +X
    roll_deg: float = 0.0
    offset_mm: float = 0.0  # moves the camera along Y
    along_mm: float = 0.0  # moves the camera along X
    wobble_mm: float = 0.0
    k1: float = 0.0
    noise: float = 0.012
    blur: float = 1.0
    shadow: float = 0.35
    uneven: float = 1.0
    speckle: float = 0.12
    gloss: float = 0.0
    sheen: float = 0.0
    sharpen: float = 0.0
    sharpen_px: float = 1.2
    quality: int = 90
    body: tuple = (0.36, 0.20, 0.09)
    paper: tuple = (0.74, 0.75, 0.72)
    hardware_mm: float = 0.0


SMALL = {"width": 1600, "height": 1200, "px_per_mm": 12.0}  # 2 MP of the same view as the 12 MP of `Setting()`


@compiled
def _bar(cx, cy, cz, dx, dy, dz, x0, x1, r):
    """Least rho - r of a plain bar x0..x1."""
    t = -(cy * dy + cz * dz) / (dy * dy + dz * dz)
    if abs(dx) > 1e-12:
        ta = (x0 - cx) / dx
        tb = (x1 - cx) / dx
        t = min(max(t, min(ta, tb)), max(ta, tb))
    elif cx < x0 or cx > x1:
        return 99.0
    return math.sqrt((cy + t * dy) ** 2 + (cz + t * dz) ** 2) - r


@compiled
def _gap(kind, L, beta, cx, cy, cz, dx, dy, dz, rmax):
    """Least rho - r along a ray inside 0 <= x <= L; positive misses. Rays that never pass over the piece give 99."""
    a = dy * dy + dz * dz
    tm = -(cy * dy + cz * dz) / a
    rho2 = (cy + tm * dy) ** 2 + (cz + tm * dz) ** 2
    if rho2 > rmax * rmax * 1.21:
        return math.sqrt(rho2) - rmax
    half = math.sqrt(rmax * rmax * 1.21 - rho2) / math.sqrt(a)
    t0 = tm - half
    t1 = tm + half
    if abs(dx) > 1e-12:
        ta = (0.0 - cx) / dx
        tb = (L - cx) / dx
        t0 = max(t0, min(ta, tb))
        t1 = min(t1, max(ta, tb))
    elif cx < 0.0 or cx > L:
        return 99.0
    if t0 >= t1:
        return 99.0
    h = (t1 - t0) / 28
    best = 1e9
    at = t0
    for stage in range(4):
        middle = at
        for i in range(29 if stage == 0 else 4):
            t = t0 + i * h if stage == 0 else min(max(middle + (i - 2 if i < 2 else i - 1) * h, t0), t1)
            y = cy + t * dy
            z = cz + t * dz
            x = min(max(cx + t * dx, 0.0), L)
            g = math.sqrt(y * y + z * z) - radius(kind, x, math.atan2(y, z) + beta)
            if g < best:
                best = g
                at = t
        h *= 0.34
    return best


@compiled
def _clear(kind, L, beta, c, M, lens, px, py, rmax, bars):
    """rho - r in mm of the ray through picture point (px, py); lens = (f, middle x, middle y, k1, half diagonal)."""
    u = px - lens[1]
    v = py - lens[2]
    if lens[3] != 0.0:
        seen = math.sqrt(u * u + v * v) / lens[4]
        perfect = seen
        for _ in range(12):
            perfect -= (perfect * (1.0 + lens[3] * perfect * perfect) - seen) / (
                1.0 + 3.0 * lens[3] * perfect * perfect
            )
        if seen > 0.0:
            u *= perfect / seen
            v *= perfect / seen
    f = lens[0]
    dx = M[0, 0] * u + M[0, 1] * v + M[0, 2] * f
    dy = M[1, 0] * u + M[1, 1] * v + M[1, 2] * f
    dz = M[2, 0] * u + M[2, 1] * v + M[2, 2] * f
    n = math.sqrt(dx * dx + dy * dy + dz * dz)
    dx /= n
    dy /= n
    dz /= n
    g = _gap(kind, L, beta, c[0], c[1], c[2], dx, dy, dz, rmax)
    if bars > 0.0:
        g = min(g, _bar(c[0], c[1], c[2], dx, dy, dz, -80.0, 0.0, bars))
        g = min(g, _bar(c[0], c[1], c[2], dx, dy, dz, L, L + 80.0, 0.6 * bars))
    return g


@compiled
def _cast(kind, L, beta, c, M, lens, w, h, step, px_per_mm, rmax, bars):
    """Share of each pixel that the piece covers (h, w), and rho - r on the grid of every `step`-th pixel corner."""
    gh = h // step + 1
    gw = w // step + 1
    G = np.zeros((gh, gw), np.float32)
    for i in range(gh):
        for k in range(gw):
            G[i, k] = _clear(kind, L, beta, c, M, lens, k * step, i * step, rmax, bars)
    cover = np.zeros((h, w), np.float32)
    corner = np.zeros((step + 1, step + 1), np.int64)
    reach = 0.25 * step / px_per_mm  # an edge bulges into a cell without parting its corners by less
    for i in range(gh - 1):
        for k in range(gw - 1):
            lo = min(G[i, k], G[i, k + 1], G[i + 1, k], G[i + 1, k + 1])
            hi = max(G[i, k], G[i, k + 1], G[i + 1, k], G[i + 1, k + 1])
            if lo > reach:
                continue
            if hi < -reach * 1.5:
                cover[i * step : (i + 1) * step, k * step : (k + 1) * step] = 1.0
                continue
            for y in range(step + 1):
                for x in range(step + 1):
                    corner[y, x] = _clear(kind, L, beta, c, M, lens, k * step + x, i * step + y, rmax, bars) < 0
            for y in range(step):
                for x in range(step):
                    inside = corner[y, x] + corner[y, x + 1] + corner[y + 1, x] + corner[y + 1, x + 1]
                    if inside in (0, 4):
                        cover[i * step + y, k * step + x] = inside / 4
                        continue
                    hits = 0
                    for j in range(16):
                        u, v = k * step + x + (j % 4 + 0.5) / 4, i * step + y + (j // 4 + 0.5) / 4
                        hits += _clear(kind, L, beta, c, M, lens, u, v, rmax, bars) < 0
                    cover[i * step + y, k * step + x] = hits / 16
    return cover, G


@lru_cache(maxsize=2)
def _covered(kind, beta_deg, numbers, w, h, px_per_mm, bars):
    """`_cast`, kept: photographs of one place often differ in their light alone."""
    c, M, lens = np.array(numbers[:3]), np.array(numbers[3:12]).reshape(3, 3), np.array(numbers[12:])
    place = (kind, LENGTH_MM[kind], math.radians(beta_deg), c, M, lens)
    return _cast(*place, w, h, CELL, px_per_mm, LARGEST_MM, bars)


@compiled
def _clear_many(kind, L, beta, c, M, lens, points, rmax, bars):
    out = np.zeros(len(points))
    for i in range(len(points)):
        out[i] = _clear(kind, L, beta, c, M, lens, points[i, 0], points[i, 1], rmax, bars)
    return out


def camera(kind, setting, seed=None):
    """Camera's place c (3,) mm, matrix M from (u right, v down, f) in px to lab directions, and the lens
    (f px, middle, k1, half diagonal px). With a seed the stand wobbles."""
    s = setting
    turn = math.radians({"right": 0.0, "up": 90.0}.get(s.x_axis, s.x_axis) + s.roll_deg)
    along = np.array([math.cos(turn), -math.sin(turn)])  # picture direction of +X (y down)
    across = np.array([-along[1], along[0]])  # picture direction of +Y
    p = math.radians(s.pitch_deg)
    ex, ey = np.array([math.cos(p), 0, math.sin(p)]), np.array([0, 1.0, 0])
    forward = np.array([math.sin(p), 0, -math.cos(p)])
    M = np.stack([ex * along[0] + ey * across[0], ex * along[1] + ey * across[1], forward], axis=1)
    z = math.sqrt(s.camera_mm**2 - s.offset_mm**2)
    c = np.array([LENGTH_MM[kind] / 2 + s.along_mm - z * math.tan(p), s.offset_mm, z])
    if seed is not None:
        c = c + s.wobble_mm * np.random.default_rng([seed, 77]).standard_normal(3)
    f = s.px_per_mm * s.camera_mm
    return c, M, np.array([f, s.width / 2, s.height / 2, s.k1, math.hypot(s.width, s.height) / 2])


def project(c, M, lens, points_mm):
    """Lab points (n, 3) to picture points (n, 2), through the lens as it is."""
    q = np.linalg.solve(M, (np.asarray(points_mm, float) - c).T).T
    perfect = lens[0] * q[:, :2] / q[:, 2:]
    rho2 = (perfect**2).sum(axis=1, keepdims=True) / lens[4] ** 2
    return lens[1:3] + perfect * (1 + lens[3] * rho2)


def axis_ends(kind, setting, seed=None):
    """(2, 2) picture points of the axis at the piece's two ends."""
    return project(*camera(kind, setting, seed), [[0, 0, 0], [LENGTH_MM[kind], 0, 0]])


def off_edge_px(kind, beta_deg, setting, points, normals, seed=None, reach=6.0):
    """(n,) how far each picture point lies outside the true edge along its normal (out of the piece), px; NaN where
    the edge is not within `reach`."""
    c, M, lens = camera(kind, setting, seed)
    place = (kind, LENGTH_MM[kind], math.radians(beta_deg), c, M, lens)

    def clear(at):
        return _clear_many(*place, at, LARGEST_MM, setting.hardware_mm)

    lo, hi = np.full(len(points), -reach), np.full(len(points), reach)
    bad = (clear(points + lo[:, None] * normals) > 0) | (clear(points + hi[:, None] * normals) < 0)
    for _ in range(24):
        mid = (lo + hi) / 2
        inside = clear(points + mid[:, None] * normals) < 0
        lo, hi = np.where(inside, mid, lo), np.where(inside, hi, mid)
    return np.where(bad, np.nan, -(lo + hi) / 2)


def coded(v):
    """Linear light 0..1 to sRGB 0..1 (IEC 61966-2-1)."""
    v = np.clip(v, 0, 1)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)


def _grown(small, w, h):
    return np.asarray(Image.fromarray(small.astype(np.float32)).resize((w, h), Image.Resampling.BILINEAR))


def _light(setting, cover, G, rng):
    """Light on the paper, light on the piece, and mirrored light (parts of the paper's), each (h, w)."""
    w, h, k = setting.width, setting.height, CELL
    sh, sw = h // k, w // k
    yy, xx = np.mgrid[0:sh, 0:sw].astype(np.float32)
    yy, xx = yy / sh - 0.5, xx / sw - 0.5
    light = 1.0 + setting.uneven * (0.16 * xx - 0.12 * yy + 0.10 * xx * yy - 0.22 * (xx * xx + yy * yy))
    scale = setting.px_per_mm / 30.0
    small = np.roll(cover.reshape(sh, k, sw, k).mean((1, 3)), (int(70 * scale / k), int(45 * scale / k)), (0, 1))
    back = light * (1 - setting.shadow * ndimage.gaussian_filter(small, 90 * scale / k))
    depth = np.clip(-(G[:-1, :-1] + G[1:, :-1] + G[:-1, 1:] + G[1:, 1:]) / 4, 0, None)  # mm the ray passes inside
    facing = np.sqrt(np.clip(1 - (1 - np.clip(depth / 25, 0, 1)) ** 2, 0, 1))  # cosine at a rod of 25 mm
    grain = ndimage.gaussian_filter(rng.standard_normal((sh, sw)).astype(np.float32), 1.2)
    lit = light * (0.45 + 0.55 * facing) * (1 + setting.speckle * grain / grain.std())
    mirror = setting.sheen * (1 - facing) ** 5  # Schlick's grazing term
    if setting.gloss:
        patches = ndimage.gaussian_filter(rng.standard_normal((sh, sw)).astype(np.float32), (sh / 16, sw / 16))
        patches = np.clip(1.5 * patches / patches.std() - 0.75, 0, 1)
        broad, limb = np.exp(-(((depth - 9) / 4) ** 2)), np.exp(-((depth / 1.2) ** 2))
        mirror = mirror + setting.gloss * (0.6 * broad * (xx < 0) + limb * patches)
    return _grown(back, w, h), _grown(lit, w, h), _grown(mirror, w, h)


def photograph(kind, beta_deg, setting, seed=0):
    """One photograph (h, w, 3) uint8, and the (2, 2) picture points of the axis' ends in it."""
    s, rng = setting, np.random.default_rng(seed)
    if s.width % CELL or s.height % CELL:
        raise ValueError(f"width and height are multiples of {CELL}")
    c, M, lens = camera(kind, s, seed)
    numbers = (*c.tolist(), *M.ravel().tolist(), *lens.tolist())
    cover, G = _covered(kind, beta_deg, numbers, s.width, s.height, s.px_per_mm, s.hardware_mm)
    back, lit, mirror = _light(s, cover, G, rng)
    planes = []
    for paper, body in zip(s.paper, s.body, strict=True):
        skin = np.minimum(lit * body + mirror * back * paper, 1)
        planes.append(back * paper * (1 - cover) + skin * cover)
    return developed(planes, s, rng), project(c, M, lens, [[0, 0, 0], [LENGTH_MM[kind], 0, 0]])


def developed(channels, setting, rng):
    """Three planes of linear light as the camera hands them over: blurred, noisy, coded, sharpened, through JPEG."""
    s = setting
    out = np.zeros((*channels[0].shape, 3), np.uint8)
    for i, plane in enumerate(channels):
        v = ndimage.gaussian_filter(plane, s.blur, truncate=3) if s.blur else plane
        noise = rng.standard_normal(v.shape, dtype=np.float32)
        v = coded(v + s.noise * np.sqrt(np.clip(v, 0.02, 1)) * noise)
        if s.sharpen:
            v = np.clip(v + s.sharpen * (v - ndimage.gaussian_filter(v, s.sharpen_px)), 0, 1)
        out[..., i] = np.round(255 * v).astype(np.uint8)
    if not s.quality:
        return out
    stream = io.BytesIO()
    Image.fromarray(out).save(stream, "JPEG", quality=s.quality)
    return np.asarray(Image.open(stream))
