"""Two measurements of one blank, turned end for end in between, made one."""

from engine.measure.chucking import Mark, end_for_end
from engine.measuring.answer import Answer, skin_answer
from engine.measuring.documents import EndForEndDocument
from engine.measuring.skins import measured_of, skin_at
from engine.measuring.way import Around

__all__ = ["joined_ends"]


def joined_ends(asked: EndForEndDocument, around: Around) -> Answer:
    """One skin of both, in the second's frame."""
    marks = [
        Mark(
            first_x_mm=mark.first.x_mm,
            first_angle_deg=mark.first.angle_deg,
            second_x_mm=mark.second.x_mm,
            second_angle_deg=mark.second.angle_deg,
        )
        for mark in asked.marks
    ]
    first, second = (measured_of(skin_at(name, getattr(asked, name), around.assets)) for name in ("first", "second"))
    return skin_answer(end_for_end(first, second, marks))
