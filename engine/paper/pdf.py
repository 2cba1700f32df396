"""A small writer of PDF: pages of lines and filled outlines in mm, nothing else.

Source: ISO 32000-1:2008, 7.3 to 7.5 (objects, file structure), 8.5 (path construction and painting). Written here
because a print that is wrapped round a piece has to come out at its true size, which a page box in points says and a
browser's print of a page does not; what a library adds (fonts, pictures, forms) is not needed: letters are outlines.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.units import INCH_MM

__all__ = ["Page", "pdf"]

POINTS_PER_MM = 72.0 / INCH_MM  # 8.3.2.3: the default unit is 1/72 inch


@dataclass(slots=True, kw_only=True)
class Page:
    """One page, mm from its lower left corner. Operators are put down in order."""

    width_mm: float
    height_mm: float
    _operators: list[bytes] = field(default_factory=list)

    def ink(self, *, line: float | None = None, fill: float | None = None, width_mm: float | None = None) -> None:
        """Greys of lines and fills, 0 black to 1 white, and the lines' width, from here on."""
        if line is not None:
            self._operators.append(b"%.3f G" % line)
        if fill is not None:
            self._operators.append(b"%.3f g" % fill)
        if width_mm is not None:
            self._operators.append(b"%.3f w" % width_mm)

    def dash(self, *lengths_mm: float) -> None:
        """Dashes of these lengths from here on; none: unbroken."""
        self._operators.append(b"[" + b" ".join(b"%.2f" % length for length in lengths_mm) + b"] 0 d")

    def lines(self, points_mm: Floats, offsets: Ints) -> None:
        """Runs of points (n, 2), each drawn as one line."""
        if len(points_mm):
            self._operators.append(_runs(points_mm, offsets) + b"\nS")

    def areas(self, points_mm: Floats, offsets: Ints) -> None:
        """Closed runs of points (n, 2), filled by the even-odd rule."""
        if len(points_mm):
            self._operators.append(_runs(points_mm, offsets) + b"\nf*")

    def within(self, outline_mm: Floats) -> None:
        """Until `without`, nothing shows outside the outline (n, 2)."""
        self._operators.append(b"q\n" + _runs(outline_mm, np.array([0, len(outline_mm)])) + b"\nh W n")

    def shifted(self, right_mm: float, up_mm: float) -> None:
        """Until `without`, places count from there."""
        self._operators.append(b"q 1 0 0 1 %.4f %.4f cm" % (right_mm, up_mm))

    def without(self) -> None:
        """Ends the last `within` or `shifted`."""
        self._operators.append(b"Q")

    @property
    def content(self) -> bytes:
        """The page's operators, in mm."""
        scale = b"%.9f 0 0 %.9f 0 0 cm 1 j 1 J" % (POINTS_PER_MM, POINTS_PER_MM)
        return b"\n".join([scale, *self._operators])


def _runs(points_mm: Floats, offsets: Ints) -> bytes:
    verbs = np.full(len(points_mm), "l")
    verbs[offsets[:-1][np.diff(offsets) > 0]] = "m"
    rows = zip(points_mm[:, 0].tolist(), points_mm[:, 1].tolist(), verbs.tolist(), strict=True)
    return "\n".join(f"{x:.3f} {y:.3f} {verb}" for x, y, verb in rows).encode()


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """The file. The same pages give the same bytes."""
    name = "<FEFF" + title.encode("utf-16-be").hex().upper() + ">"  # 7.9.2.2: a text string in UTF-16BE
    kids = " ".join(f"{4 + 2 * k} 0 R" for k in range(len(pages)))
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>".encode(),
        f"<< /Title {name} >>".encode(),
    ]
    for k, page in enumerate(pages):
        box = f"0 0 {page.width_mm * POINTS_PER_MM:.4f} {page.height_mm * POINTS_PER_MM:.4f}"
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox [{box}] /Resources << >> /Contents {5 + 2 * k} 0 R >>".encode()
        )
        packed = zlib.compress(page.content, 6)
        objects.append(f"<< /Length {len(packed)} /Filter /FlateDecode >>\nstream\n".encode() + packed + b"\nendstream")
    out = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(out)
    table = "".join(f"{place:010d} 00000 n \n" for place in places)
    size = len(objects) + 1
    out += f"xref\n0 {size}\n0000000000 65535 f \n{table}".encode()
    out += f"trailer\n<< /Size {size} /Root 1 0 R /Info 3 0 R >>\nstartxref\n{start}\n%%EOF\n".encode()
    return bytes(out)
