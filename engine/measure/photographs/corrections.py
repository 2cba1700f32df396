"""What may be wrong with the set-up, as numbers that are found with the skin, each held by how well it was known.

One for all photographs: `shift` (px, the axis' line square to itself), `roll` and `pitch` (rad), `camera` (share of
its distance), `lens` (k1), `steps` (share of the rotary's steps). One for each photograph: `turn` (rad) and where the
camera stood, mm `across` and `along` the axis and `away` from it.
The mean of each photograph's `turn`, `along` and the like is no matter of the photographs (the skin's own angle and
station would take it up), so it is held at 0, or at 0 in the photograph in which the axis was marked.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.kernel.arrays import Floats
from engine.measure.photographs.camera import Setup, camera_of, rays_of
from engine.measure.photographs.contact import Contacts, Skin, nearness
from engine.measure.photographs.rays import EdgePoints

__all__ = ["FEW", "TRIED", "Corrections", "columns", "expected", "rays_for", "seen"]

_SHARED = ("shift", "roll", "pitch", "camera", "lens", "steps")
_EACH = ("turn", "across", "along", "away")
FEW = 12  # photographs, below which a camera beside its place and a section that is not round look alike
TRIED = {"shift": 0.5, "roll": 2e-4, "pitch": 5e-4, "camera": 1e-3, "lens": 1e-3}  # two-sided differences
_ENOUGH = 6.0  # corrections determined by the data, below which their common size is not learnt from them
_HELD = 1e-3  # of a prior's sigma: how exactly what no photograph can tell is held at 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corrections:
    """shared : names of those in use, in the order of the vector; each : likewise, `photos` numbers of each name.

    value : (k,) the shared ones, then each name's photographs. sigma : one prior standard deviation a name.
    stated : the set-up's own. gauge : (photos,) the weighted mean of where the camera stood that is held at 0; of
    `turn` it is the plain mean.
    spread : (k,) posterior standard deviations, the priors' until a step has been taken.
    """

    shared: tuple[str, ...]
    each: tuple[str, ...]
    photos: int
    value: Floats
    sigma: dict[str, float]
    stated: dict[str, float]
    gauge: Floats
    spread: Floats

    def one(self, name: str) -> float:
        """A shared correction, 0 where it is not in use."""
        return float(self.value[self.shared.index(name)]) if name in self.shared else 0.0

    def many(self, name: str) -> Floats:
        """(photos,) a photograph's correction, 0 where it is not in use."""
        return self.value[self.place(name)] if name in self.each else np.zeros(self.photos)

    def place(self, name: str) -> slice:
        """Where a name stands in the vector."""
        if name in self.shared:
            at = self.shared.index(name)
            return slice(at, at + 1)
        start = len(self.shared) + self.each.index(name) * self.photos
        return slice(start, start + self.photos)

    def precision(self) -> Floats:
        """(k, k) inverse of the prior covariance, the held means among it."""
        out = np.zeros((len(self.value), len(self.value)))
        for name in self.shared:
            out[self.place(name), self.place(name)] = self.sigma[name] ** -2
        for name in self.each:
            mean = np.full(self.photos, 1.0 / self.photos) if name == "turn" else self.gauge
            held = np.outer(mean, mean) / _HELD**2
            out[self.place(name), self.place(name)] = (np.identity(self.photos) + held) * self.sigma[name] ** -2
        return out

    def stated_sigma(self) -> Floats:
        """(k,) the set-up's own prior standard deviations."""
        each = (np.full(self.photos, self.stated[name]) for name in self.each)
        return np.concatenate([[self.stated[name] for name in self.shared], *each])

    def circling(self, beta_rad: Floats) -> Floats:
        """(k, k) inverse covariance that holds a camera at 0 which went round the axis as the piece was turned.

        A piece that runs out by a towards theta stands at (a sin(theta - beta), a cos(theta - beta)) beside its place,
        across and away: no outline tells that from a camera that moved the other way, so what the fit would find of
        it is chance. Held are the means of across cos(beta) + away sin(beta) and of across sin(beta) - away cos(beta).
        """
        out = np.zeros((len(self.value), len(self.value)))
        if "across" in self.each and "away" in self.each:
            c, s = np.cos(beta_rad), np.sin(beta_rad)
            for across, away in ((c, s), (s, -c)):
                mode = np.zeros(len(self.value))
                mode[self.place("across")], mode[self.place("away")] = across, away
                mode /= self.photos * _HELD * self.sigma["across"]
                out += np.outer(mode, mode)
        return out

    def moved(self, by: Floats, spread: Floats) -> "Corrections":
        """The same with `by` (k,) added."""
        return replace(self, value=self.value + by, spread=spread)

    def learned(self) -> "Corrections":
        """The same with priors as wide as the photographs' corrections turn out to be, 2 % to twice what was told.

        A stand told to wobble by 0.3 mm that shows 0.01 mm in every direction the photographs can see wobbles by no
        more in those that they cannot. sigma^2 = sum of squares / number of corrections that the data determine.
        Source: D. J. C. MacKay, "Bayesian interpolation", Neural Computation 4 (1992) 415-447, re-estimation of alpha.
        """
        sigma = dict(self.sigma)
        for name in self.each:
            at, stated = self.place(name), self.stated[name]
            determined = float((1.0 - (self.spread[at] / sigma[name]) ** 2).sum()) - 1.0
            if determined > _ENOUGH:
                found = math.sqrt(float((self.value[at] ** 2).sum()) / determined)
                sigma[name] = min(max(found, 0.02 * stated), 2.0 * stated)
        return replace(self, sigma=sigma)


def expected(setup: Setup, photos: int) -> Corrections:
    """Those that this many photographs can show, at 0, with priors from the set-up.

    The marks' errors are independent in both points, so the line's shift has axis_sigma_px / sqrt(2) and its roll
    axis_sigma_px sqrt(2) / length; both are taken sqrt(2) times as wide, for marks are rarely as good as told.
    """
    n = max(photos, 1)
    marks, swayed = setup.axis_sigma_px, setup.wobble_sigma_mm / math.sqrt(n) / setup.mm_per_px
    sigma = {
        "shift": max(math.hypot(marks, swayed), 0.05),
        "roll": max(2.0 * marks, 0.1) / setup.axis_px,
        "pitch": math.radians(setup.pitch_sigma_deg),
        "camera": setup.camera_sigma,
        "lens": 0.0 if setup.lens is None else setup.lens.k1_sigma,
        "steps": setup.step_sigma,
        "turn": math.radians(setup.angle_sigma_deg),
        **dict.fromkeys(("across", "along", "away"), setup.wobble_sigma_mm),
    }
    far, one = setup.camera_mm is None, photos == 1
    idle = {name for name, value in sigma.items() if not value > 0.0}
    idle |= {"pitch", "camera", "away"} if far else set()
    if one:
        idle |= {"pitch", "steps", *_EACH}
    elif photos < FEW:
        idle |= {"pitch", "camera", "steps"}
    shared = tuple(name for name in _SHARED if name not in idle)
    each = tuple(name for name in _EACH if name not in idle)
    gauge = np.full(photos, 1.0 / n)
    if setup.axis_photo is not None:
        gauge = np.zeros(photos)
        gauge[setup.axis_photo] = 1.0
    value = np.zeros(len(shared) + len(each) * photos)
    now = Corrections(
        shared=shared, each=each, photos=photos, value=value, sigma=sigma, stated=sigma, gauge=gauge, spread=value
    )
    return replace(now, spread=now.stated_sigma())


def rays_for(points: EdgePoints, setup: Setup, corrections: Corrections) -> tuple[Floats, Floats, Floats]:
    """(beta, foot, direction) of every edge point: (n,) rad, (n, 3) mm, (n, 3)."""
    foot, direction = seen(points, setup, corrections, {})
    stood = np.stack([corrections.many(name) for name in ("along", "across", "away")], axis=1)
    foot = foot + stood[points.photo]
    t = -(foot[:, 1] * direction[:, 1] + foot[:, 2] * direction[:, 2]) / (direction[:, 1:] ** 2).sum(axis=1)
    beta = points.beta_rad + corrections.one("steps") * _lead(points) + corrections.many("turn")
    return beta[points.photo], foot + t[:, None] * direction, direction


def columns(
    points: EdgePoints, setup: Setup, corrections: Corrections, skin: Skin, touch: Contacts, rays: tuple[Floats, ...]
) -> Floats:
    """(n, k) dF by every correction, at the contacts."""
    beta, foot, _ = rays
    out = np.zeros((len(beta), len(corrections.value)))
    base = foot - seen(points, setup, corrections, {})[0]
    for name in corrections.shared:
        at = corrections.place(name).start
        if name == "steps":
            out[:, at] = touch.turned * _lead(points)[points.photo]
            continue
        h = TRIED[name]
        ahead, d_ahead = seen(points, setup, corrections, {name: h})
        behind, d_behind = seen(points, setup, corrections, {name: -h})
        rise = nearness(skin, beta, ahead + base, d_ahead, touch.t_mm)
        out[:, at] = (rise - nearness(skin, beta, behind + base, d_behind, touch.t_mm)) / (2.0 * h)
    row = np.arange(len(beta))
    for name, by in zip(_EACH, (touch.turned, *touch.slope[:, [1, 0, 2]].T), strict=True):
        if name in corrections.each:
            out[row, corrections.place(name).start + points.photo] = by
    return out


def _lead(points: EdgePoints) -> Floats:
    """(photos,) how far each photograph's angle lies from their mean."""
    return points.beta_rad - points.beta_rad.mean()


def seen(points: EdgePoints, setup: Setup, corrections: Corrections, tried: dict[str, float]) -> tuple[Floats, Floats]:
    """Foot and direction of the rays with the shared corrections, some of them changed."""
    value = {name: corrections.one(name) + tried.get(name, 0.0) for name in TRIED}
    camera = camera_of(
        setup,
        shift_px=value["shift"],
        roll_rad=value["roll"],
        pitch_rad=value["pitch"],
        camera_share=value["camera"],
        k1=value["lens"],
    )
    return rays_of(camera, points.off_px)
