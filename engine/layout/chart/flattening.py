"""Laying a patch of skin flat: of all angle-true maps the one whose scale changes least, or the map of least strain.

The patch comes as a field of places on the skin over a `Net`. Angle-true: the scale's logarithm w solves Laplace's
equation with the Gauss curvature as its source and w = 0 on the rim (of all conformal maps the one of least change of
scale, Chebyshev's rule); the sheet is then the field whose slopes come nearest to turned frames of length e^w, and with
such a w nothing is left over. As rigid as can be: the same with w = 0 everywhere.
Source: B. Springborn, P. Schroeder, U. Pinkall, "Conformal equivalence of triangle meshes" (2008), whose angle defects
are the curvature here; B. Levy and others, "Least squares conformal maps" (2002); O. Sorkine, M. Alexa,
"As-rigid-as-possible surface modeling" (2007) for the turns in alternation. Names and years from memory.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, diags_array
from scipy.sparse.linalg import splu

from engine.kernel.arrays import Floats, Ints
from engine.layout.chart.levelling import levelled
from engine.layout.chart.net import Net
from engine.layout.chart.surface import Surface

__all__ = ["flattened"]

ROUNDS = 200  # of turns in alternation; each leaves three quarters of what was off, or less
AHEAD = 1.7  # of the way to the next sheet: each way alone leaves up to 0.84, all of one sign
SETTLED = 1e-10  # of the patch's size
Complexes = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forms:
    """The skin's metric at a net's samples (n,): its inverse times the area that a sample stands for, and one frame."""

    area: Floats
    inverse: tuple[Floats, Floats, Floats]
    frame: tuple[Complexes, Complexes]
    curvature: Floats

    @classmethod
    def of(cls, net: Net, surface: Surface, patch: Floats) -> "Forms":
        """Of the patch with coefficients (m, 2) of x and theta."""
        (x, theta), (x_p, t_p), (x_q, t_q) = ((op @ patch).T for op in (net.values, *net.slopes))
        E, F, G = surface.metric(x, theta)
        pp = E * x_p**2 + 2 * F * x_p * t_p + G * t_p**2
        pq = E * x_p * x_q + F * (x_p * t_q + x_q * t_p) + G * t_p * t_q
        qq = E * x_q**2 + 2 * F * x_q * t_q + G * t_q**2
        det = np.sqrt(np.maximum(pp * qq - pq**2, 1e-300))
        area = net.weights * det
        share = net.weights / det
        side = np.sqrt(pp)
        return cls(
            area=area,
            inverse=(qq * share, -pq * share, pp * share),
            frame=(side + 0j, (pq + 1j * det) / side),
            curvature=surface.curvature(x, theta),
        )

    def stiffness(self, net: Net) -> csc_array:
        """(m, m): the inner product of two fields' slopes."""
        (p, q), (pp, pq, qq) = net.slopes, (diags_array(v) for v in self.inverse)
        return csc_array(p.T @ (pp @ p + pq @ q) + q.T @ (pq @ p + qq @ q))


def flattened(net: Net, surface: Surface, patch: Floats, *, rim_mm: Floats | None = None, rigid: bool) -> Floats:
    """(m, 2) coefficients of the sheet over the net; where it lies and how it is turned is left open.

    patch : (m, 2) coefficients of x and theta. rim_mm : (n, 2) ring along which the scale is to change least, in place
    of the net's rim; the net's own places must then be an angle-true sheet already, or nearly.
    """
    forms = Forms.of(net, surface, patch)
    stiffness = forms.stiffness(net)
    if rigid:
        return _sheet(net, forms, stiffness, np.ones(len(forms.area)))
    w = _scale(net, forms, stiffness)
    scale = net.values @ w
    if rim_mm is not None:
        scale = scale + levelled(rim_mm, net.at(w[:, None], rim_mm)[:, 0], net.samples)
    return _sheet(net, forms, stiffness, np.exp(scale))


def _scale(net: Net, forms: Forms, stiffness: csc_array) -> Floats:
    """Coefficients of w, 0 on the rim."""
    inner = net.inner
    source = net.values.T @ (forms.area * forms.curvature)
    w = np.zeros(stiffness.shape[0])
    w[inner] = _solver(stiffness, inner)(-source[inner])
    return w


def _solver(stiffness: csc_array, free: Ints) -> Callable[[Floats], Floats]:
    """What gives the coefficients that are free from what pulls at them."""
    held = stiffness.tocsr()[free].tocsc()[:, free]
    solve: Callable[[Floats], Floats] = splu(held, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve
    return solve


def _sheet(net: Net, forms: Forms, stiffness: csc_array, scale: Floats) -> Floats:
    """Coefficients of u and v, from frames of length `scale` (n,) turned in alternation with the sheet."""
    p, q = net.slopes
    (pp, pq, qq), (a, b) = forms.inverse, forms.frame
    over_p, over_q = pp * a + pq * b, pq * a + qq * b
    kept = np.arange(1, len(net.places))  # one coefficient stays: a sheet may be shifted freely
    solve = _solver(stiffness, kept)
    sheet = net.through(net.places)
    size = float(np.hypot(*(net.high_mm - net.low_mm)))
    for _ in range(ROUNDS):
        z = sheet @ [1.0, 1j]
        turn = (p @ z) * over_p.conj() + (q @ z) * over_q.conj()
        turn *= scale / np.abs(turn)
        pull = np.asarray(p.T @ (turn * over_p) + q.T @ (turn * over_q))
        fresh = np.zeros(sheet.shape)
        fresh[kept] = solve(np.stack([pull.real[kept], pull.imag[kept]], axis=1))
        fresh += (sheet - fresh).mean(axis=0)
        sheet = sheet + AHEAD * (fresh - sheet)
        if np.abs(fresh - sheet).max() < SETTLED * size:
            break
    return sheet
