"""Authorities and origins in their normal form (RFC 3986 3.2, RFC 9110 7.2), and what is none."""

import pytest

from server.hosts import authority, origin, own_names


@pytest.mark.parametrize(
    ("raw", "pair"),
    [
        (b"127.0.0.1:8437", ("127.0.0.1", 8437)),
        (b"LOCALHOST", ("localhost", 80)),
        (b"localhost.:8437", ("localhost", 8437)),
        (b"[::1]:8437", ("[::1]", 8437)),
        (b"[0:0:0:0:0:0:0:1]", ("[::1]", 80)),
    ],
)
def test_normal_form(raw, pair):
    assert authority(raw) == pair


@pytest.mark.parametrize(
    "raw",
    [
        *(b"", b":80", b"user@127.0.0.1", b"127.0.0.1:0", b"127.0.0.1:99999", b"127.0.0.1:8437/", b"a b", b"a,b"),
        *(b"localhost..", b"..", b"[::1", b"[::1]x", b"localhost\n", b"localhost\x00", b"127.0.0.1:+80", b"[zz::1]"),
    ],
)
def test_no_authority(raw):
    with pytest.raises(ValueError, match=r"."):
        authority(raw)


@pytest.mark.parametrize("raw", [b"null", b"", b"http://a http://b", b"ftp://127.0.0.1", b"http://127.0.0.1/x", b"//a"])
def test_no_origin(raw):
    with pytest.raises(ValueError, match=r"."):
        origin(raw)


def test_origins_and_own_names():
    assert origin(b"http://127.0.0.1:8437") == ("http", "127.0.0.1", 8437)
    assert origin(b"https://Bench.test") == ("https", "bench.test", 443)
    assert own_names(81) == {("127.0.0.1", 81), ("[::1]", 81), ("localhost", 81)}
