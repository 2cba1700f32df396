"""The layout: the named pair sheet <-> skin that every projection gives."""

from typing import Protocol

from engine.blank.skin import Skin
from engine.kernel.arrays import Bools, Floats

__all__ = ["Layout"]


class Layout(Protocol):
    """Where the sheet lies. Sheet (u, v) mm: u right = +theta, v up = +x, the art's centre at (0, 0).

    theta is continuous over the sheet (not wrapped), near the centre's own angle. Points that cannot be laid
    (off the end of the blank, out of the eye's sight) raise LayoutError with the count and the worst place.
    """

    @property
    def skin(self) -> Skin:
        """The skin that is laid on."""

    def wrap(self, uv_mm: Floats) -> tuple[Floats, Floats]:
        """(n, 2) sheet mm -> x_mm (n,), theta_rad (n,)."""

    def holds(self, uv_mm: Floats) -> Bools:
        """(n,) whether `wrap` can lay each point."""

    def unwrap(self, x_mm: Floats, theta_rad: Floats) -> Floats:
        """x, theta (n,) -> (n, 2) sheet mm; the inverse of `wrap`, theta taken as it is, not modulo a turn."""

    def jacobian(self, uv_mm: Floats) -> Floats:
        """(n, 2, 2): d(x, theta)/d(u, v), mm/mm and rad/mm."""

    def tensor(self, uv_mm: Floats) -> Floats:
        """(n, 3): E, F, G of the skin in sheet coordinates, mm2 on the skin per mm2 of sheet."""
