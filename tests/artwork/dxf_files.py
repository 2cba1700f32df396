"""DXF files written by hand for the tests, in text and in both binary forms."""

import struct
from collections.abc import Iterable

import ezdxf
from ezdxf import units

Tags = list[tuple[int, object]]
BINARY = b"\x41\x75\x74\x6f\x43\x41\x44" + b" Binary DXF\r\n\x1a\x00"


def entity(kind: str, *tags: tuple[int, object], layer: str = "0") -> Tags:
    return [(0, kind), (8, layer), *tags]


def line(x0: float, y0: float, x1: float, y1: float, layer: str = "0") -> Tags:
    return entity("LINE", (10, x0), (20, y0), (11, x1), (21, y1), layer=layer)


def circle(x: float, y: float, radius: float, *more: tuple[int, object], layer: str = "0") -> Tags:
    return entity("CIRCLE", (10, x), (20, y), (40, radius), *more, layer=layer)


def polyline(points: Iterable[tuple[float, float, float]], closed: bool = False, layer: str = "0") -> Tags:
    corners = [(code, value) for p in points for code, value in zip((10, 20, 42), p, strict=True)]
    return entity("LWPOLYLINE", (70, int(closed)), *corners, layer=layer)


def insert(name: str, x: float, y: float, *more: tuple[int, object], layer: str = "0") -> Tags:
    return entity("INSERT", (2, name), (10, x), (20, y), *more, layer=layer)


def block(name: str, *entities: Tags, base: tuple[float, float] = (0.0, 0.0)) -> Tags:
    inside = [tag for each in entities for tag in each]
    return [(0, "BLOCK"), (8, "0"), (2, name), (10, base[0]), (20, base[1]), *inside, (0, "ENDBLK")]


def layer(name: str, flags: int = 0, colour: int = 7) -> Tags:
    return [(0, "LAYER"), (2, name), (70, flags), (62, colour)]


def tags(*entities: Tags, blocks: Iterable[Tags] = (), layers: Iterable[Tags] = (), unit: int | None = 4) -> Tags:
    def section(name: str, *parts: Tags) -> Tags:
        return [(0, "SECTION"), (2, name), *(tag for part in parts for tag in part), (0, "ENDSEC")]

    header = section("HEADER", [] if unit is None else [(9, "$INSUNITS"), (70, unit)])
    tables = section("TABLES", [(0, "TABLE"), (2, "LAYER")], *layers, [(0, "ENDTAB")])
    return [*header, *tables, *section("BLOCKS", *blocks), *section("ENTITIES", *entities), (0, "EOF")]


def text(all_tags: Tags, end: str = "\r\n") -> bytes:
    return "".join(f"{code:3d}{end}{value!s}{end}" for code, value in all_tags).encode()


def dxf(*entities: Tags, blocks: Iterable[Tags] = (), layers: Iterable[Tags] = (), unit: int | None = 4) -> bytes:
    return text(tags(*entities, blocks=blocks, layers=layers, unit=unit))


def binary(all_tags: Tags, wide: bool = True) -> bytes:
    """The binary form: codes of two bytes, or of one as before 1994."""
    out = bytearray(BINARY)
    for code, value in all_tags:
        out += struct.pack("<H", code) if wide else bytes([code]) if code < 255 else b"\xff" + struct.pack("<H", code)
        if isinstance(value, str):
            out += value.encode() + b"\x00"
        elif 10 <= code <= 59 or 210 <= code <= 239:
            out += struct.pack("<d", float(str(value)))
        else:
            out += struct.pack("<i" if 90 <= code <= 99 else "<h", int(str(value)))
    return bytes(out)


def made_by_ezdxf() -> ezdxf.document.Drawing:
    """Everything that is drawn, in blocks in blocks, uneven, mirrored, in arrays, seen from behind."""
    doc = ezdxf.new("R2018")
    doc.units = units.MM
    leaf = doc.blocks.new("leaf", base_point=(1, 1))
    leaf.add_line((0, 0), (4, 1))
    leaf.add_circle((2, 2), 1.5)
    leaf.add_arc((2, 2), 3, 300, 40, dxfattribs={"extrusion": (0, 0, -1)})
    leaf.add_lwpolyline([(0, 0, 0, 0, 0.6), (3, 0, 0, 0, -1), (3, 3)], close=True)
    leaf.add_ellipse((5, 5), (2, 1), 0.4, 0.5, 4.0)
    leaf.add_open_spline([(0, 0), (2, 5), (5, -2), (8, 4)])
    twig = doc.blocks.new("twig")
    twig.add_blockref("leaf", (10, 0), dxfattribs={"xscale": 2, "yscale": 0.7, "rotation": 30})
    twig.add_blockref("leaf", (0, 8), dxfattribs={"xscale": -1, "rotation": -15})
    twig.add_polyline2d([(0, 0, 0.4), (5, 5, 0), (9, 4, 0)], format="xyb")
    space = doc.modelspace()
    space.add_blockref("twig", (3, 4), dxfattribs={"rotation": 70, "xscale": 1.5, "yscale": 1.5})
    space.add_blockref("twig", (-30, 9), dxfattribs={"extrusion": (0, 0, -1), "rotation": 20})
    space.add_blockref("leaf", (60, 0), dxfattribs={"column_count": 3, "row_count": 2, "column_spacing": 12,
                                                    "row_spacing": 15, "rotation": 25})  # fmt: skip
    space.add_spline([(0, 40), (10, 50), (20, 38)]).dxf.degree = 3
    return doc
