"""The check code against the standard library's own base 32, and what it does and does not depend on."""

import base64
import hashlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.machine import FeedRule, Profile
from engine.program import check_code, with_header, write
from tests.program.paths import linked
from tests.program.test_rs274 import HELIX

RFC_4648 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"
SHOWN = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford's alphabet: no I, L, O, U


def code_by_hand(body):
    """Base 32 of RFC 4648, section 6, its alphabet exchanged letter for letter."""
    text = base64.b32encode(hashlib.sha256(body).digest()[:5]).decode().translate(str.maketrans(RFC_4648, SHOWN))
    return f"{text[:4]}-{text[4:]}"


@given(st.binary(max_size=64))
@settings(derandomize=True, deadline=None, max_examples=100)
def test_it_is_base_32_of_the_hash(body):
    assert check_code(body) == code_by_hand(body)


def test_it_covers_all_that_follows_the_headers_comments_and_stands_last_in_them():
    program = write(HELIX, Profile(), header=[("job", "Gourd 12"), ("caution", "wear goggles")])
    head, code, body = program.text.partition(f"(check code: {program.check_code})\n".encode())
    assert code and all(line.startswith(b"(") for line in head.splitlines()) and head.count(b"\n") == 3
    assert body.startswith(b"G21 G90 G93\n") and code_by_hand(body) == program.check_code


def test_the_name_leaves_it_alone_and_one_step_of_one_word_does_not():
    code = write(HELIX, Profile(), header=[("job", "one")]).check_code
    assert write(HELIX, Profile(), header=[("job", "two")]).check_code == code
    t = np.linspace(0, 4 * np.pi, 50)
    moved = np.stack([np.linspace(0, 5, 50), t, np.full(50, 20.0)], 1)
    moved[25, 0] += 1e-4
    others = [
        write(linked([moved]), Profile()),
        write(HELIX, Profile(), rpm=1),
        write(HELIX, Profile(), spindle=False),
        write(HELIX, Profile(), zero_r_mm=1e-4),
        write(HELIX, Profile(feed_rule=FeedRule.ALL_AXES)),
        write(HELIX, Profile(footer=("M9",))),
    ]
    codes = {program.check_code for program in others}
    assert len(codes) == len(others) and code not in codes


@pytest.mark.parametrize("body", [b"", b"G0 X1\n"])
def test_it_reads_well_aloud(body):
    code = check_code(body)
    assert len(code) == 9 and code[4] == "-" and not set("ILOU") & set(code)


def test_the_header_holds_the_sum_of_the_body_that_the_check_code_shortens():
    bare = write(HELIX, Profile())
    program = with_header(bare, [("job", "Seed-swap float 12")], longest=60)
    lines = program.text.split(b"\n")
    head, body = lines[: program.header_lines], b"\n".join(lines[program.header_lines :])
    assert program.body_sha256 == bare.body_sha256 == hashlib.sha256(body).hexdigest() != program.sha256
    joined = b"".join(line[1:-1].removeprefix(b". ") for line in head)
    assert program.body_sha256.encode() in joined and max(map(len, head)) <= 60
    assert program.check_code == check_code(body) and head[-1] == b"(check code: %s)" % program.check_code.encode()
