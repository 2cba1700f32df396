"""Frames between server and worker: what is broken is refused, what is whole comes back to the byte."""

import io
import zipfile

import numpy as np
import pytest

from server.workers import wire


@pytest.mark.parametrize(
    "line",
    [
        b'{"kind":"x"}\n',
        b'{"kind":"x","parts":[["a",-1]]}\n',
        b'{"kind":"x","parts":[["a",true]]}\n',
        b'{"kind":"x","parts":[["../a",1]]}\n',
        b'{"kind":NaN,"parts":[]}\n',
        b"[]\n",
        b'{"kind":"x"',
        b'{"kind":"x","parts":[["a",9]]}\nshort',
        b'{"kind":"x","kind":"y","parts":[]}\n',
        b'{"kind":"x","parts":[["a",999999999999]]}\n',
        b"[" * 60000 + b"\n",
        b"x" * 70000,
    ],
)
def test_a_broken_frame_is_refused(line):
    with pytest.raises(wire.WireError):
        wire.read_frame(io.BytesIO(line), most_bytes=1000)


def test_frames_come_back():
    held = io.BytesIO()
    wire.write_frame(held, {"kind": "x", "n": 1}, {"a": b"\n\0", "b": b""})
    wire.write_frame(held, {"kind": "y"})
    held.seek(0)
    assert wire.read_frame(held, most_bytes=2) == ({"kind": "x", "n": 1}, {"a": b"\n\0", "b": b""})
    assert wire.read_frame(held, most_bytes=2) == ({"kind": "y"}, {})
    assert wire.read_frame(held, most_bytes=2) is None


def test_arrays_come_back_and_objects_do_not():
    arrays = {"b": np.arange(6.0).reshape(2, 3).T, "a": np.array([], dtype=np.int32)}
    data = wire.dump_arrays(arrays)
    assert data == wire.dump_arrays(dict(reversed(arrays.items())))
    assert all(np.array_equal(value, arrays[name]) for name, value in wire.load_arrays(data).items())
    with pytest.raises(ValueError, match="allow_pickle"):
        wire.dump_arrays({"a": np.array([object()])})
    out, packed = io.BytesIO(), io.BytesIO()
    np.savez(out, a=np.array([{}], dtype=object))
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("a.npy", b"0" * 100000)
    for bad in (out.getvalue(), packed.getvalue(), b"", data[:-30], b"PK\x05\x06" + b"\0" * 10):
        with pytest.raises(wire.WireError):
            wire.load_arrays(bad)


def test_only_finite_numbers_travel():
    with pytest.raises(ValueError, match="JSON"):
        wire.dump_json({"depth_mm": float("nan")})
    for text in (b"1e999", b"[Infinity]", b'{"a":1,"a":2}'):
        with pytest.raises(wire.WireError):
            wire.load_json(text)
