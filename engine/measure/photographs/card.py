"""The printed card from which a camera's lens is learnt: a grid of round dots, three of them larger.

The larger ones stand in an L with unlike legs near the middle, so that any photograph that holds the middle tells which
dot is which and which way is up. Our own design; drawn as SVG in true millimetres.
"""

from enum import Enum

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints

__all__ = ["COLUMNS", "DOT_PITCHES", "LARGE", "LARGE_PITCHES", "ROWS", "Paper", "card_svg", "is_large"]

PITCH_MM = 10.0
COLUMNS, ROWS = 17, 22
DOT_PITCHES, LARGE_PITCHES = 0.4, 0.65
"""Diameters in parts of the pitch."""
LARGE = ((0, 0), (2, 0), (0, 3))
"""Column and row of the larger dots, counted from the first of them."""
ORIGIN = (7, 9)
"""Column and row of the first larger dot, counted from the upper left one of the card."""


class Paper(Enum):
    """Sheet width and height, mm (ISO 216 A4; ANSI/ASME Y14.1 A, "letter")."""

    A4 = (210.0, 297.0)
    LETTER = (215.9, 279.4)


def is_large(index: Ints | Floats) -> Bools:
    """(n,) True where (n, 2) columns and rows, counted from the first larger dot, are those of a larger one."""
    return np.asarray((index[:, None, :] == np.array(LARGE)).all(axis=2).any(axis=1))


def card_svg(paper: Paper = Paper.A4) -> str:
    """The card on one sheet as SVG text, one user unit a millimetre, with a bar of 100 mm to measure the print by."""
    width, height = paper.value
    left, top = (width - PITCH_MM * (COLUMNS - 1)) / 2, 16.0
    column, row = np.meshgrid(np.arange(COLUMNS), np.arange(ROWS))
    places = np.stack([column.ravel(), row.ravel()], axis=1)
    across = np.where(is_large(places - np.array(ORIGIN)), LARGE_PITCHES, DOT_PITCHES) * PITCH_MM
    dots = [
        f'<circle cx="{left + PITCH_MM * c:.2f}" cy="{top + PITCH_MM * r:.2f}" r="{d / 2:.3f}"/>'
        for (c, r), d in zip(places, across, strict=True)
    ]
    bar_y = top + PITCH_MM * ROWS + 6.0
    start = width / 2 - 50.0
    bar = f"M{start:.2f} {bar_y - 3:.2f}v6M{start + 100:.2f} {bar_y - 3:.2f}v6M{start:.2f} {bar_y:.2f}h100"
    words = [
        "Print at full size (100 %). The line is 100 mm long: measure it. Glue the sheet to something flat.",
        "Photograph it four times or more at the zoom used for the piece: straight on, and leaning each way,",
        "near enough for dots to reach the corners of the picture.",
    ]
    text = [
        f'<text x="{width / 2:.2f}" y="{bar_y + 7 + 4.2 * i:.2f}" font-size="3.4" font-family="sans-serif" '
        f'text-anchor="middle">{line}</text>'
        for i, line in enumerate(words)
    ]
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
    head += f'viewBox="0 0 {width} {height}"><title>Card for learning a lens</title>'
    paper_rect = f'<rect width="{width}" height="{height}" fill="#fff"/>'
    line = f'<path d="{bar}" fill="none" stroke="#000" stroke-width="0.3"/>'
    return "\n".join([head, paper_rect, *dots, line, *text, "</svg>"]) + "\n"
