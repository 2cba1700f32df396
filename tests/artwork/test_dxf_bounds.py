"""DXF files that cannot be read, or ask for too much: refused with a reason, at a cost that grows with the file."""

import io
from contextlib import suppress
from itertools import pairwise

import numpy as np
import pytest
from ezdxf import recover

from engine.artwork import Limits, describe, read_artwork
from engine.kernel.errors import ArtworkError, EmptyError, NotArtworkError, TooBigError
from tests.artwork.dxf_files import (
    binary,
    block,
    circle,
    dxf,
    entity,
    insert,
    layer,
    line,
    made_by_ezdxf,
    polyline,
    tags,
    text,
)
from tests.artwork.pictures import region


@pytest.mark.parametrize(
    ("data", "kind", "says"),
    [
        (dxf(), EmptyError, "nothing"),
        (dxf(insert("A", 0, 0), blocks=[block("A", insert("B", 0, 0)), block("B", insert("a", 0, 0))]),
             ArtworkError, "itself"),
        (dxf(insert("B9", 0, 0), blocks=[block("B0", line(0, 0, 1, 1)),
             *(block(f"B{k}", insert(f"B{k - 1}", 0, 0)) for k in range(1, 10))]), TooBigError, "8 deep"),
        (dxf(insert("B6", 0, 0), blocks=[block("B0", *(line(0, 0, 1, 1) for _ in range(10))),
             *(block(f"B{k}", *(insert(f"B{k - 1}", 0, 0) for _ in range(10))) for k in range(1, 7))]),
             TooBigError, "500,000"),
        (dxf(insert("B", 0, 0, (70, 30000), (71, 30000)), blocks=[block("B", line(0, 0, 1, 1))]),
             TooBigError, "inserted"),
        (dxf(line(0, 0, 1, 1)).replace(b"ENDSEC\r\n  0\r\nEOF", b""), NotArtworkError, "cut short"),
        (dxf(line(0, 0, 1, 1)).replace(b" 20\r\n", b"two\r\n"), NotArtworkError, "group code"),
        (dxf(entity("LINE", (10, "left"), (20, 1))), NotArtworkError, "'left'"),
        (dxf(line(0, 0, float("nan"), 1)), ArtworkError, "finite"),
        (dxf(line(0, 0, 1e300, 1)), ArtworkError, "far"),
        (dxf(circle(0, 0, -1)), ArtworkError, "radius"),
        (dxf(entity("SPLINE", (71, 3), (40, 0), (10, 0), (20, 0))), ArtworkError, "no spline"),
        (dxf(entity("ELLIPSE", (10, 0), (20, 0), (40, 1))), ArtworkError, "axis"),
        (b"0\nSECTION\n2\nHEADER\n0\nENDSEC\n0\nEOF\n", NotArtworkError, "no section"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_its_reason(data: bytes, kind: type[ArtworkError], says: str) -> None:
    with pytest.raises(kind, match=says) as caught:
        read_artwork(data)
    assert caught.value.where


def test_size_limits_are_kept() -> None:
    data = dxf(*(circle(k, 0, 5) for k in range(40)))
    with pytest.raises(TooBigError, match="bytes"):
        read_artwork(data, limits=Limits(dxf_bytes=len(data) - 1))
    with pytest.raises(TooBigError, match="points"):
        read_artwork(data, limits=Limits(points=2000))
    with pytest.raises(TooBigError, match="entities"):
        read_artwork(data, limits=Limits(dxf_entities=39))


def test_broken_bytes_are_refused_or_read() -> None:
    held, packed = io.StringIO(), io.BytesIO()
    doc = made_by_ezdxf()
    doc.write(held)
    doc.write(packed, fmt="bin")
    whole = held.getvalue().encode()
    parts = [text(tags(*[circle(0, 0, 5), insert("B", 1, 2)], blocks=[block("B", polyline([(0, 0, 1), (3, 0, 0)]))]))]
    parts += [binary(tags(circle(0, 0, 5), line(0, 0, 9, 9))), whole[whole.index(b"BLOCKS") - 20 :], packed.getvalue()]
    rng = np.random.default_rng(5)
    read = 0
    for k in range(240):
        data = bytearray(parts[k % 4] if k % 4 < 3 or k < 24 else parts[1])
        for _ in range(1 + k % 3):
            at = int(rng.integers(0, len(data)))
            if k % 5 == 0:
                del data[at : at + int(rng.integers(1, 40))]
            elif k % 5 == 1:
                data = data[: max(at, 60)]
            else:
                data[at % len(data)] = int(rng.integers(0, 256))
        for door in (describe, read_artwork):
            with suppress(ArtworkError):
                door(bytes(data))
                read += 1
    assert read > 20


def test_recover_agrees_that_the_hand_written_files_are_dxf() -> None:
    doc, _ = recover.read(io.BytesIO(dxf(circle(0, 0, 10), line(0, 0, 5, 5))))
    assert [each.dxftype() for each in doc.modelspace()] == ["CIRCLE", "LINE"]


def test_work_grows_with_the_file_and_no_faster() -> None:
    """Each would take minutes or gigabytes if every pair, every copy or every edge anew were looked at."""
    fan = read_artwork(dxf(*(line(0, 0, np.cos(k / 3000), np.sin(k / 3000)) for k in range(9000))))
    assert len(fan.lines) == 9000  # no two of them are one line: all meet in one place
    empty = [block("B0"), *(block(f"B{k}", insert(f"B{k - 1}", 0, 0, (70, 300), (71, 300))) for k in range(1, 5))]
    with pytest.raises(TooBigError):
        read_artwork(dxf(insert("B4", 0, 0), line(0, 0, 1, 1), blocks=empty))
    round_about = [(10 * np.cos(t), 10 * np.sin(t)) for t in np.linspace(0, 2 * np.pi, 8001)]
    edges = [tag for (a, b), (c, d) in pairwise(round_about) for tag in ((72, 1), (10, a), (20, b), (11, c), (21, d))]
    hatch = entity("HATCH", (70, 1), (91, 1), (92, 1), (93, 8000), *edges, (97, 0), (75, 0))
    assert region(read_artwork(dxf(hatch)).rings).area == pytest.approx(100 * np.pi, rel=1e-4)
    many = [layer(f"bed {k}") for k in range(20)]
    with pytest.raises(TooBigError, match="layers"):
        read_artwork(dxf(line(0, 0, 1, 1), layers=many), limits=Limits(dxf_layers=19))
    rng = np.random.default_rng(0)
    points = [(code, v) for p in rng.uniform(0, 9, (3000, 2)) for code, v in zip((10, 20), p, strict=True)]
    numbers = [(40, float(k)) for k in range(3000 + 4)] + [(41, w) for w in rng.uniform(0.001, 1000, 3000)]
    with pytest.raises(TooBigError):
        read_artwork(
            dxf(*(entity("SPLINE", (71, 3), *numbers, *points) for _ in range(9))), limits=Limits(points=30_000)
        )


def test_two_ends_near_one_another_are_joined_and_a_third_parts_them() -> None:
    off = 0.001
    pair = [line(0, 0, 10, 0), line(10 + off, 0, 10, 9)]
    assert len(read_artwork(dxf(*pair)).lines) == 1
    for third in (line(10, -off, 10, -9), line(10, 0, 10, -9)):
        assert len(read_artwork(dxf(*pair, third)).lines) == 3


@pytest.mark.parametrize("value", ["nan", "-inf", 1e300, -1e13])
@pytest.mark.parametrize(
    "made",
    [
        lambda v: entity("ARC", (10, 0), (20, 0), (40, 5), (50, v), (51, 90)),
        lambda v: entity("CIRCLE", (10, 0), (20, v), (40, 5)),
        lambda v: polyline([(0, 0, v), (5, 0, 0)]),
        lambda v: insert("B", 0, 0, (50, v)),
        lambda v: insert("B", 0, 0, (44, v), (70, 3)),
        lambda v: entity("TEXT", (10, 0), (20, 0), (40, v), (1, "bean")),
        lambda v: entity("SPLINE", (71, 1), (40, 0), (40, 0), (40, v), (10, 0), (20, 0), (10, 1), (20, 1)),
    ],
)
def test_a_number_of_no_drawing_is_refused_wherever_it_stands(made, value: object) -> None:
    for door in (describe, read_artwork):
        with pytest.raises(ArtworkError):
            door(dxf(line(0, 0, 1, 1), made(value), blocks=[block("B", line(0, 0, 1, 1))]))
