"""What the strict reader refuses, and that what it takes is what the standard's reader takes (RFC 8259, RFC 7493)."""

import json
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.problems import Problem
from server.settings import Limits
from server.strict_json import loads

LIMITS = Limits()


def refused(raw, **more):
    with pytest.raises(Problem) as caught:
        loads(raw, LIMITS, **more)
    return [fault.pointer for fault in caught.value.errors]


@pytest.mark.parametrize(
    ("raw", "pointers"),
    [
        (b'{"a": NaN}', ["/a"]),
        (b'{"a": [1, -Infinity]}', ["/a/1"]),
        (b'{"a": 1e999}', ["/a"]),
        (b'{"a": 1e-320}', ["/a"]),
        (b'{"a": 9007199254740993}', ["/a"]),
        (b'{"a": ' + b"9" * 5000 + b"}", ["/a"]),
        (b'{"a": 1, "a": 2}', ["/a"]),
        (b'{"a": {"b": "\\ud800"}}', ["/a/b"]),
        (b'{"a": "\\u0000"}', ["/a"]),
        (b'{"a": "\x7f"}', ["/a"]),
        (b'{"a": "\\u001b[31m"}', ["/a"]),
        (b'{"a": NaN, "b": [Infinity]}', ["/a", "/b/0"]),
        (b'{"~<script>": NaN}', ["/*"]),
        (b'{"a": "' + b"x" * 20_001 + b'"}', ["/a"]),
        (b"\xef\xbb\xbf{}", [""]),
        (b'{"a": "\xff"}', [""]),
        (b"[" * 65 + b"]" * 65, [""]),
        (b"[" * 200_000, [""]),
        (b'{"a": 1} x', []),
        (b"", []),
        (b"{'a': 1}", []),
    ],
)
def test_refused_with_a_pointer(raw, pointers):
    assert refused(raw) == pointers


@pytest.mark.parametrize("raw", [b"[" * 64 + b"]" * 64, b'{"a": -0.0}', b'{"a": -0}', b'{"a": "\\n\\t\xc3\xa9"}', b"0"])
def test_taken(raw):
    assert loads(raw, LIMITS) == json.loads(raw)


def test_a_zero_has_no_sign():
    assert str(loads(b"-0.0", LIMITS)) == "0.0"


def test_brackets_inside_texts_are_no_nesting():
    assert loads(b'["' + b"[" * 100 + b'\\"{"]', LIMITS) == ["[" * 100 + '"{']


def test_one_text_may_be_let_free():
    raw = b'{"program": "G0\\u0007\\ud800", "name": "\\u0007"}'
    assert refused(raw, free="/program") == ["/name"]


def test_an_unclosed_text_costs_no_more_than_its_length():
    start_s = time.process_time()
    refused(b'["' + b'\\"' * 500_000)
    assert time.process_time() - start_s < 5.0  # quadratic time would take hours


VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False).filter(lambda x: x == 0 or abs(x) > 1e-300)
    | st.text(st.characters(min_codepoint=32, max_codepoint=0x7E), max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc~/", max_size=3), inner, max_size=4),
    max_leaves=12,
)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(VALUES)
def test_takes_what_the_plain_reader_takes(value):
    assert loads(json.dumps(value).encode(), LIMITS) == value
