"""The texts of a DXF file as outlines: TEXT, ATTRIB and MTEXT, set in a shipped face at the height that they state.

The file names faces that only the program which wrote it has; height, place, turn, width factor, slant and alignment
are the file's, letters and their widths are the shipped face's. Formatting inside an MTEXT is left out but for its line
breaks; long lines are broken at the width that it states. Source of the codes: the published DXF reference, "TEXT",
"MTEXT" and its format codes.
"""

import math
import re

import numpy as np

from engine.artwork.dxf_shapes import Row, moved, own_system
from engine.artwork.dxf_tags import Entity, named
from engine.artwork.lettering import Align, Text, set_text
from engine.artwork.lettering.faces import face_of
from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.kernel.arrays import Floats
from engine.kernel.errors import ArtworkError, TooBigError
from engine.kernel.ragged import Ragged

__all__ = ["TEXTS", "Texts"]

TEXTS = ("TEXT", "ATTRIB", "MTEXT")
FACE = "sans"
SIZE_MM = 30.0  # at which letters are set, then scaled: their curves are then true to 7e-5 of a capital's height
LINE = 5.0 / 3.0  # from one line's foot to the next in an MTEXT, in heights: the format's own
ALIGNED, MIDDLE, FIT = 3, 4, 5  # group 72 of a TEXT, where it says more than left 0, centre 1 or right 2
ACROSS = {1: 0.5, 2: 1.0, MIDDLE: 0.5}  # from the left end to the point of alignment, in widths
HIDDEN = 1  # bit of group 70 of an ATTRIB
BACKWARD, UPSIDE_DOWN = 2, 4  # bits of group 71 of a TEXT
SIGNS = {"d": "°", "p": "±", "c": "⌀", "%": "%", "u": "", "o": "", "k": ""}
_SIGN = re.compile(r"%%(\d{3}|[dpcuok%])", re.IGNORECASE)
_FORMAT = re.compile(
    r"\\(?P<kept>[\\{}])|(?P<line>\\[PNX])|(?P<blank>\\~)|\\S(?P<over>[^;^/#]*)[\^/#](?P<under>[^;]*);"
    r"|\\[ACcFfHQTWp][^;]*;|\\[LlOoKk]|[{}]"
)


class Texts:
    """Sets the texts of one file; letters are counted, the same words are set once."""

    def __init__(self, limits: Limits, notes: Notes) -> None:
        self._limits, self._notes = limits, notes
        self._letters = 0
        self._held: dict[tuple[str, Align, float], tuple[Ragged, float, float]] = {}
        self._face = face_of(FACE, None, limits)
        self._capital = self._face.capital(notes)

    def loops(self, entity: Entity) -> list[list[Row]]:
        """The edges of a text's letters; none, and a note, where it cannot be set.

        Raises
        ------
        TooBigError where the file has more letters than are set; ArtworkError for a number that makes no sense.
        """
        if entity.kind == "ATTRIB" and entity.whole(70) & HIDDEN:
            self._notes.add("hidden", "hidden entities are not used", entity.where)
            return []
        height = entity.number(40)
        if not 0 < height < math.inf:
            raise ArtworkError(f"{entity.kind}: a height of {height:g}", where=entity.where)
        self._letters += sum(len(part) for code in (1, 3) for part in entity.texts(code))
        if self._letters > self._limits.dxf_letters:
            raise TooBigError(f"the drawing has over {self._limits.dxf_letters:,} letters", where="file")
        try:
            loops = self._block(entity, height) if entity.kind == "MTEXT" else self._line(entity, height)
        except ArtworkError as exc:
            self._notes.add("text", f"a text is left out: {exc.message}", entity.where)
            return []
        if loops:
            self._notes.add("face", f"text is set in {FACE}: the file's own faces are not in it", entity.where)
        return loops

    def _set(self, string: str, align: Align, pitch: float) -> tuple[Ragged, float, float]:
        """Edges, width, and depth of all under the first line's foot, in heights of a capital, seen from that foot's
        left end. pitch : from line to line.
        """
        key = string, align, pitch
        if key not in self._held:
            share = pitch * self._capital / self._face.pitch
            text = Text(string=string, font=FACE, size_mm=SIZE_MM, align=align, line_spacing=share)
            made = set_text(text, limits=self._limits).drawing
            foot = made.height_mm / 2 - self._face.ascent / self._capital * SIZE_MM
            points = (made.rings.points + np.array([made.width_mm / 2, -foot])) / SIZE_MM
            depth = (made.height_mm - self._face.ascent / self._capital * SIZE_MM) / SIZE_MM
            self._held[key] = Ragged(points=points, offsets=made.rings.offsets), made.width_mm / SIZE_MM, depth
        return self._held[key]

    def _line(self, entity: Entity, height: float) -> list[list[Row]]:
        string = _SIGN.sub(_sign, named(entity.text(1)))
        if not string.strip():
            return []
        rings, width, depth = self._set(string, Align.LEFT, 1.0)
        across, up, flags = entity.whole(72), entity.whole(73), entity.whole(71)
        wide, turn = entity.number(41, 1.0) or 1.0, math.radians(entity.number(50))
        (x, y, z), (x1, y1, _) = entity.point(10), entity.point(11)
        if across in (ALIGNED, FIT):
            reach = math.hypot(x1 - x, y1 - y)
            turn, fitted = math.atan2(y1 - y, x1 - x), reach / (width * height)
            wide, height = (fitted, height) if across == FIT else (1.0, height * fitted)
            across = up = 0
        elif across or up:
            x, y = x1, y1
        foot = {1: -depth, 2: 0.5, 3: 1.0}.get(up, 0.5 if across == MIDDLE else 0.0)
        slant = math.tan(math.radians(entity.number(51)))
        mirror = np.array([-1.0 if flags & BACKWARD else 1.0, -1.0 if flags & UPSIDE_DOWN else 1.0])
        shape = np.array([[wide, slant], [0.0, 1.0]]) * height * mirror[:, None]
        return self._placed(rings, np.array([ACROSS.get(across, 0.0) * width, foot]), shape, turn, (x, y), entity, z)

    def _block(self, entity: Entity, height: float) -> list[list[Row]]:
        lines = _FORMAT.sub(_plain, "".join([*entity.texts(3), entity.texts(1)[0] if entity.has(1) else ""]))
        lines = self._wrapped(named(_SIGN.sub(_sign, lines)), entity.number(41) / height)
        if not lines.strip():
            return []
        place = min(max(entity.whole(71, 1), 1), 9) - 1
        align = (Align.LEFT, Align.CENTRE, Align.RIGHT)[place % 3]
        pitch = LINE * (entity.number(44, 1.0) or 1.0)
        rings, width, depth = self._set(lines, align, pitch)
        up = (1.0, (1.0 - depth) / 2, -depth)[place // 3]
        (x, y, z), (ax, ay, _) = entity.point(10), entity.point(11)
        turn = math.atan2(ay, ax) if entity.has(11) else math.radians(entity.number(50))
        shape = np.array([[height, 0.0], [0.0, height]])
        return self._placed(rings, np.array([(place % 3) * width / 2, up]), shape, turn, (x, y), entity, z)

    def _wrapped(self, text: str, most: float) -> str:
        """The lines broken between words where they are wider than `most` heights; 0 is no bound."""
        if not most > 0:
            return text
        return "\n".join(part for line in text.split("\n") for part in self._broken(line, most))

    def _broken(self, line: str, most: float) -> list[str]:
        out = [""]
        for word in line.split(" "):
            longer = f"{out[-1]} {word}" if out[-1] else word
            if out[-1] and self._width(longer) > most:
                out.append(word)
            else:
                out[-1] = longer
        return out

    def _width(self, words: str) -> float:
        return self._face.line(words, Text(string=words, font=FACE), 0.0, self._notes).advance / self._capital

    def _placed(
        self,
        rings: Ragged,
        anchor: Floats,
        shape: Floats,
        turn: float,
        at: tuple[float, float],
        entity: Entity,
        z: float,
    ) -> list[list[Row]]:
        c, s = math.cos(turn), math.sin(turn)
        points = (rings.points - anchor) @ (np.array([[c, -s], [s, c]]) @ shape).T + np.array(at)
        plane = None if entity.kind == "MTEXT" else own_system(entity, z)
        return [moved(_chain(points[a:b]), plane) for a, b in zip(rings.offsets, rings.offsets[1:], strict=False)]


def _chain(points: Floats) -> list[Row]:
    rows = np.column_stack([points[:-1], points[:-1], points[1:], points[1:], np.ones(len(points) - 1)])
    return [tuple(row) for row in rows.tolist()]


def _sign(found: re.Match[str]) -> str:
    return chr(int(found[1])) if found[1].isdigit() else SIGNS[found[1].lower()]


def _plain(found: re.Match[str]) -> str:
    """What stands for a format code of an MTEXT: a letter, a line break, a fraction with its bar, or nothing."""
    if found["over"] is not None:
        return f"{found['over']}/{found['under']}" if found["under"] else found["over"]
    return found["kept"] or ("\n" if found["line"] else " " if found["blank"] else "")
