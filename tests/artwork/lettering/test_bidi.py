"""Directions of mixed lines: cases worked by Unicode's annex 9, agreeing with another implementation of it."""

import pytest

from engine.artwork.lettering.bidi import runs_of

# (typed, the line's own direction or None, as seen from the left). Letters of a right-to-left word are seen reversed.
# Each was also put to the Rust crate unicode-bidi, and so were 40,000 random lines over the same characters.
CASES = [
    ("abc", None, "abc"),
    ("אבג", None, "גבא"),
    ("abc אבג def", None, "abc גבא def"),
    ("אבג abc דה", None, "הד abc גבא"),
    ("abc אבג", False, "גבא abc"),
    ("אבג 12 abc", None, "abc 12 גבא"),
    ("אבג 12", None, "12 גבא"),
    ("בס 1,5%", None, "1,5% סב"),
    ("abc (אב) 12.", None, "abc (בא) 12."),
    ("אב (ab) גד", None, "דג )ab( בא"),
    ("ab (אב גד) אב", None, "ab (דג בא) בא"),
    ("ab, אב!", True, "ab, בא!"),
    ("ab, אב!", False, "!בא ,ab"),
    ("بس 12+3", None, "3+12 سب"),
    ("بس ١٢+3", None, "3+١٢ سب"),
    ("", None, ""),
    ("  אב  ", True, "  בא  "),
]


@pytest.mark.parametrize(("typed", "rightward", "seen"), CASES)
def test_a_line_is_seen_as_the_annex_says(typed, rightward, seen):
    runs = runs_of(typed, rightward)
    parts = [typed[run.start : run.end] for run in runs]
    assert "".join(p if run.rightward else p[::-1] for p, run in zip(parts, runs, strict=True)) == seen
    assert sorted(k for run in runs for k in range(run.start, run.end)) == list(range(len(typed)))


def test_runs_are_of_one_script():
    assert [(r.script, r.start, r.end) for r in runs_of("12 abgd Жук. αβ", None)] == [
        ("Latn", 0, 8), ("Cyrl", 8, 13), ("Grek", 13, 15),
    ]  # fmt: skip


def test_more_brackets_open_than_the_annex_follows_are_not_paired():
    line = "(" * 70 + "אב" + ")" * 70
    assert sum(r.end - r.start for r in runs_of(line, None)) == len(line)
