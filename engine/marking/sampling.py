"""Even samples along the rows that a tone is drawn along: from what is told of places far apart to `Rows`, by parts."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import offsets_of, parts_of

__all__ = ["SEEN", "Rows", "Sampling"]

SEEN = 0.99  # of the looks about a place, each by its nearness: all of them are seen, but for rounding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """m rows of n samples, each in the middle of its stretch.

    uv_mm : (n, 2) on the sheet. art_mm : (n, 2) the same on the turn of it that holds the picture. way_mm : (n,) its
    stretch on the skin. cell_mm : (n,) the width of skin, across, that it answers for. lean : (n,) cosine between a
    radial tool and the normal. rise : (n,) mm outwards for a mm along the row.
    bend : (n,) the skin's normal curvature across the row, 1 / mm, above 0 where it is convex.
    seen : (n,) whether the art's sheet lies there at all. number : (m,) of the line that a row is a part of.
    """

    uv_mm: Floats
    art_mm: Floats
    way_mm: Floats
    cell_mm: Floats
    lean: Floats
    rise: Floats
    bend: Floats
    seen: Bools
    offsets: Ints
    number: Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sampling:
    """Rows whose samples are still to be made: the whole of a large picture would be much to hold at a time.

    told : (8, l) of each look its place on the art's sheet (2), mm on the skin for one on the rows' sheet, the strip's
    width, lean, rise, bend, whether the art's sheet lies there; (11, l) where rows go on, with its u on the rows' own
    sheet and the way to the same place a turn further (2). offsets : (m + 1,) of the rows' looks in it.
    length_mm : (m,) of each row on its sheet; size : (m,) how many samples it is to have. number : (m,) of its line.
    first_turn : where the picture's turn begins and how wide it is, where rows go on beyond it.
    """

    told: Floats
    offsets: Ints
    length_mm: Floats
    size: Ints
    number: Ints
    first_turn: tuple[float, float] | None

    def parts(self) -> Iterator[Rows]:
        """All rows, some whole rows at a time; of no rows one part without any."""
        return (self._rows(these) for these in parts_of(self.size))

    def whole(self) -> Rows:
        """All rows at once."""
        return self._rows(slice(0, len(self.size)))

    def _rows(self, these: slice) -> Rows:
        size, looks = self.size[these], self.offsets[these.start : these.stop + 1]
        uv, samples = np.zeros((size.sum(), 2)), np.zeros((len(self.told) - 2, size.sum()))
        _between(self.told, looks, size, self.length_mm[these], uv, samples)
        way, cell, lean, rise, bend, seen = samples[:6]
        art = uv
        if self.first_turn is not None:
            left, turn = self.first_turn
            art = uv - (np.floor((samples[6] - left) / turn) * samples[7:]).T
        return Rows(
            uv_mm=uv,
            art_mm=art,
            way_mm=way,
            cell_mm=cell,
            lean=lean,
            rise=rise,
            bend=bend,
            seen=seen > SEEN,
            offsets=offsets_of(size[size > 0]),
            number=self.number[these][size > 0],
        )


@compiled
def _between(told: Floats, offsets: Ints, size: Ints, length: Floats, uv: Floats, samples: Floats) -> None:
    """Fill uv (n, 2) with the first two rows of told (k, m), and samples (k - 2, n) with the others, straight between
    its columns: of each run size[row] samples, each in the middle of its stretch. The first of samples is a sample's
    stretch itself: what told says of a mm, by its share of the run's length.
    """
    n, longest, looks = 0, 1, 2
    for row in range(len(size)):
        longest, looks = max(longest, size[row]), max(looks, offsets[row + 1] - offsets[row])
    part, begins = np.zeros(longest), np.zeros(looks + 1, np.int64)
    for row in range(len(size)):
        first, last = offsets[row], offsets[row + 1] - 1 - offsets[row]
        begins[: last + 1] = 0
        for j in range(size[row]):
            place = (j + 0.5) / size[row] * last
            part[j] = place - int(place)
            begins[int(place) + 1] = j + 1  # the sample after, as far as it is known
        for c in range(len(told)):
            to = uv[n : n + size[row], c] if c < 2 else samples[c - 2, n : n + size[row]]
            begin = 0
            for at in range(last):
                here, way = told[c, first + at], told[c, first + at + 1] - told[c, first + at]
                for j in range(begin, begins[at + 1]):
                    to[j] = here + part[j] * way
                begin = max(begin, begins[at + 1])
        for j in range(n, n + size[row]):
            samples[0, j] *= length[row] / size[row]
        n += size[row]
