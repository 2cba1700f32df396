"""Published ranges of surface speed and chip load, by material, and how a material's plain words are matched to them.

Surface speeds are those of a milling-machine maker's manual, which defers to Machinery's Handbook, for
high-speed steel; for carbide it doubles them: the range told spans both. Chip loads are those of a router chip-load
table that two vendors print alike, for tools about 3.2 mm wide. Stone-like materials: a maker's table for diamond
wheels. Which trees are hardwoods is common knowledge (broad-leaved or conifer). Gourd and bone have no published range.
"""

import re
from dataclasses import dataclass

from engine.kernel.units import INCH_MM

__all__ = ["CHIP_SOURCE", "Material", "material_of"]

CHIP_SOURCE = "a router chip-load table that two vendors print alike"
_MANUAL = "a milling-machine maker's manual (after Machinery's Handbook)"
_WHEELS = "a maker's table for diamond wheels"


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One row. speed_m_min, chip_mm : (least, greatest), chip load per tooth; None where nothing is published.

    general : its word gives way to a finer row's of the same kin. ranged : a least speed is published too, not only one
    figure.
    """

    name: str
    kin: str
    words: tuple[str, ...]
    speed_m_min: tuple[float, float]
    source: str = _MANUAL
    chip_mm: tuple[float, float] | None = None
    general: bool = False
    ranged: bool = True


def _chip(low_inch: float, high_inch: float) -> tuple[float, float]:
    return low_inch * INCH_MM, high_inch * INCH_MM


def _wood(name: str, words: tuple[str, ...], chip: tuple[float, float], *, general: bool = False) -> Material:
    return Material(name=name, kin="wood", words=words, speed_m_min=(91.0, 304.0), chip_mm=chip, general=general)


def _plastic(name: str, words: tuple[str, ...], chip: tuple[float, float], *, general: bool = False) -> Material:
    return Material(name=name, kin="plastic", words=words, speed_m_min=(91.0, 488.0), chip_mm=chip, general=general)


def _metal(name: str, words: tuple[str, ...], low: float, high: float) -> Material:
    return Material(name=name, kin=name, words=words, speed_m_min=(low, 2.0 * high), ranged=low < high)


_HARDWOODS = (
    *("alder", "apple wood", "ash wood", "beech", "birch", "boxwood", "cherry wood", "elm", "hardwood", "hornbeam"),
    *("lime wood", "limewood", "linden", "mahogany", "maple", "oak", "olive wood", "pear wood", "pearwood"),
    *("plum wood", "sycamore", "walnut"),
)
_SOFTWOODS = ("cedar", "cypress", "fir", "larch", "pine", "softwood", "spruce")
_TABLE = (
    _wood("wood", ("wood", "wooden"), _chip(0.003, 0.006), general=True),
    _wood("hardwood", _HARDWOODS, _chip(0.003, 0.005)),
    _wood("softwood", _SOFTWOODS, _chip(0.004, 0.006)),
    _plastic("plastic", ("plastic", "plastics"), _chip(0.002, 0.006), general=True),
    _plastic("hard plastic", ("hard plastic",), _chip(0.002, 0.004)),
    _plastic("soft plastic", ("soft plastic",), _chip(0.003, 0.006)),
    _plastic("acrylic", ("acrylic",), _chip(0.003, 0.005)),
    Material(
        name="aluminium",
        kin="aluminium",
        words=("aluminium", "aluminum"),
        speed_m_min=(91.0, 182.0),
        chip_mm=_chip(0.003, 0.004),
        ranged=False,
    ),
    _metal("brass or bronze", ("brass", "bronze"), 46.0, 46.0),
    _metal("copper", ("copper",), 30.5, 30.5),
    _metal("cast iron", ("cast iron",), 15.2, 24.4),
    _metal("mild steel", ("mild steel",), 27.4, 27.4),
    _metal("stainless steel", ("stainless", "stainless steel"), 18.3, 18.3),
    Material(
        name="glass, ceramic, stone or shell",
        kin="stone",
        words=("glass", "ceramic", "ceramics", "porcelain", "stone", "stoneware", "shell", "eggshell", "egg"),
        speed_m_min=(480.0, 1800.0),
        source=_WHEELS,
    ),
)


def material_of(words: str) -> Material | None:
    """The row that plain words mean; None: nothing is published for what they name, or they name several kinds."""
    text = " ".join(re.findall(r"[a-z]+", words.lower()))
    named = [row for row in _TABLE if any(re.search(rf"\b{word}\b", text) for word in row.words)]
    finer = [row for row in named if not row.general]
    if len({row.kin for row in named}) != 1 or len(finer) > 1:
        return None
    return (finer or named)[0]
