"""The equations of a fit: readings and their weights laid down in blocks, solved for any smoothing, and scored.

Source of the score: P. Craven, G. Wahba, "Smoothing noisy data with spline functions", Numer. Math. 31 (1979) 377-403,
generalised cross-validation: leaving out one reading after the other, with all alike in how much they say; of its
dearer parameters: Y.-J. Kim, C. Gu, "Smoothing spline Gaussian regression", J. R. Stat. Soc. B 66 (2004) 337-356.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from engine.kernel.arrays import Floats
from engine.kernel.units import TURN_RAD
from engine.measure.measured import Readings
from engine.measure.spline import Basis, pattern_search
from engine.measure.surface.blocks import Blocks, Inverse
from engine.measure.surface.model import ROWS, Model
from engine.measure.surface.profile import Profile
from engine.measure.surface.spacing import Spacing

__all__ = ["Decades", "Equations"]

FEWEST_AROUND, MOST_AROUND = 8, 48  # splines around: one a reading, but no more than can be solved in a second
FINER = 1.25  # splines a reading around: lobes of two and a half readings each are then still followed
FEWEST_ALONG, MOST_ALONG = 6, 63
PRICE = 1.1  # of a parameter: the plain score at times takes a far rougher surface for a gain within chance
LEAN = 0.01  # a decade rougher has to better the score by more: between readings on a grid the score sees nothing
LEAST_ROUND = -4.0  # decades: readings without noise, many to a station, would let the profile swing between stations
HEAVIEST = 5.0  # decades; beyond, the equations lose digits and the surface is a quadratic anyhow


@dataclass(frozen=True, slots=True, kw_only=True)
class Decades:
    """Powers of ten of the smoothing of the round part and of the deviation along and around."""

    round_: float
    along: float
    around: float


class Equations:
    """One set of readings on a model made for them; `weigh` says how far each counts.

    laid_out : where the readings were meant to be, if they have been moved a little: what lies between those places is
    not seen. profile : the round departure, already taken off `target`. places : (k, 2) of the readings in usual
    spacings. stated_mm : the error that the readings state for a reading of weight 1; 0 where they state none.
    """

    def __init__(self, readings: Readings, x_range_mm: tuple[float, float], laid_out: Readings | None = None) -> None:
        self.readings = readings
        self.spacing = Spacing.of(readings if laid_out is None else laid_out)
        x, theta = readings.x_mm, readings.theta_rad
        x0, x1 = min(x_range_mm[0], float(x.min())), max(x_range_mm[1], float(x.max()))
        nx = ROWS * int(np.ceil(np.clip((x1 - x0) / self.spacing.along_mm + 3.0, FEWEST_ALONG, MOST_ALONG) / ROWS))
        nt = int(np.clip(np.round(FINER * TURN_RAD / self.spacing.around_rad), FEWEST_AROUND, MOST_AROUND))
        self.model = Model.on(Basis(x0_mm=x0, x1_mm=x1, nx=nx, nt=nt))
        self.profile = Profile.through(x, readings.radius_mm, x0, x1, nx)
        self.target = readings.radius_mm - self.profile.radius(x)
        self.rows = self.model.matrix(x, theta)
        self.index, self.value = self.model.rows(x, theta)
        self.places = self.spacing.places(x, theta)
        given = readings.sigma_mm
        self.stated_mm = float(np.sqrt(1.0 / np.mean(1.0 / given**2))) if (given > 0).all() else 0.0
        self.trust = (self.stated_mm / given) ** 2 if self.stated_mm else np.ones(len(x))
        self.weigh(np.ones(len(x)))

    def weigh(self, share: Floats) -> None:
        """Set how far each reading counts, 0 to 1, and lay down the equations."""
        self.weight = self.trust * share
        half = sparse.diags_array(np.sqrt(self.weight)) @ self.rows
        normal = sparse.csr_matrix(half.T @ half)
        self.normal = Blocks.of(normal, ROWS * self.model.width)
        self._sparse = normal
        self.right = np.asarray(self.rows.T @ (self.weight * self.target))
        self.total = float((self.weight * self.target**2).sum())
        self.count = float(share.sum())
        self.unit = float(normal.diagonal().sum()) / self.model.size

    def solve(self, at: Decades) -> tuple[Inverse, Floats]:
        """The factor and the coefficients."""
        m = self.model
        terms = ((at.round_, m.round_), (at.along, m.along), (at.around, m.around))
        matrix = self.normal.plus(*((self.unit * 10.0 ** min(d, HEAVIEST), p) for d, p in terms), (self.unit, m.tie))
        inverse = Inverse(matrix)
        return inverse, inverse.solve(self.right)

    def score(self, at: Decades) -> float:
        """Generalised cross-validation: the mean squared error of foretelling readings, up to a factor."""
        inverse, c = self.solve(at)
        free = self.count - PRICE * inverse.near().trace_with(self.normal)
        return self._lost(c) / free**2 * (1.0 - LEAN) ** (at.along + at.around) if free > 0 else np.inf

    def _lost(self, c: Floats) -> float:
        return max(self.total - 2.0 * float(c @ self.right) + float(c @ (self._sparse @ c)), 1e-12 * self.total)

    def search(self, at: Decades, widths: tuple[float, ...], *, free: bool) -> Decades:
        """Better decades: the deviation's two (where `free`), then the round part's."""
        if free:
            along, around = pattern_search(
                lambda a, b: self.score(Decades(round_=at.round_, along=a, around=b)),
                (at.along, at.around),
                widths,
                round_body=False,
            )
            at = Decades(round_=at.round_, along=along, around=around)
        round_, _ = pattern_search(
            lambda a, _: self.score(Decades(round_=max(a, LEAST_ROUND), along=at.along, around=at.around)),
            (at.round_, 0.0),
            widths,
            round_body=True,
        )
        return Decades(round_=max(round_, LEAST_ROUND), along=at.along, around=at.around)
