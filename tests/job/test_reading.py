"""How a document is read: nothing coerced, every fault at once, each in plain words with its own pointer."""

import pytest
from pydantic import Field

from engine.job import Document, check_depth, pointer, read
from engine.job.reading import _ALLOWED, Length, Name, Words
from engine.kernel.errors import JobError
from tests.job.documents import put


class Leaf(Document):
    size_mm: Length
    name: Words = ""


class Tree(Document):
    name: Name
    leaf: Leaf
    leaves: tuple[Leaf, ...] = Field(default=(), min_length=1, max_length=2)
    count: int = 1


GOOD = {"name": "bean", "leaf": {"size_mm": 2.5}, "leaves": [{"size_mm": 1}, {"size_mm": 3, "name": "top"}]}


def faults(value, at=""):
    with pytest.raises(JobError) as caught:
        read(Tree, value, at=at)
    return caught.value


def test_what_is_right_is_read_as_it_stands():
    tree = read(Tree, GOOD)
    assert (tree.name, tree.leaf.size_mm, tree.leaves[1].name) == ("bean", 2.5, "top")
    assert read(Tree, put(GOOD, "/leaf/size_mm", 3)).leaf.size_mm == 3.0  # a whole number is a number


@pytest.mark.parametrize(("parts", "text"), [((), ""), (("a", 0), "/a/0"), (("a/b", "m~n", ""), "/a~1b/m~0n/")])
def test_pointers_are_rfc_6901(parts, text):
    """RFC 6901, section 5: "/a~1b" and "/m~0n" are its own examples."""
    assert pointer(*parts) == text


def test_every_fault_is_told_once_in_the_order_of_pointers():
    wrong = {"name": "", "leaf": {"size_mm": True, "x": 1}, "leaves": [{}, {"size_mm": 0}], "count": 1.5}
    told = faults(wrong, at="/under").problems
    assert [p.pointer for p in told] == [
        "/under/count", "/under/leaf/size_mm", "/under/leaf/x", "/under/leaves/0/size_mm", "/under/leaves/1/size_mm",
        "/under/name",
    ]  # fmt: skip
    assert str(faults(wrong)).startswith("/count: a whole number and 5 more")


@pytest.mark.parametrize(
    ("given_", "shown"),
    [
        ("short", "short"),
        ("x" * 41, None),
        ("a\nb", None),
        (2**60, None),
        (float("nan"), None),
        (True, True),
        ([], None),
    ],
)
def test_only_numbers_and_short_words_are_said_again(given_, shown):
    (problem,) = faults(put(GOOD, "/leaf/size_mm", given_)).problems
    assert problem.given is shown or problem.given == shown


@pytest.mark.parametrize(
    ("place", "value"),
    [("/leaves", []), ("/leaves", [{"size_mm": 1}] * 3), ("/leaves", {}), ("/leaf", []), ("/leaf", None), ("/name", 5)],
)
def test_every_kind_of_fault_has_plain_words_of_its_own(place, value):
    (problem,) = faults(put(GOOD, place, value)).problems
    assert problem.pointer == place
    assert not any(word in problem.allowed for word in ("Input", "valid", "Tree", "Leaf", "tuple", "dict"))
    assert problem.allowed


def test_half_characters_are_told_where_they_stand():
    wrong = {"name": "\ud800", "leaf": {"size_mm": "\udc00"}, "leaves": [{"\udfff": 1, "size_mm": 1}]}
    assert [p.pointer for p in faults(wrong).problems] == ["/leaf/size_mm", "/leaves/0", "/name"]
    assert read(Tree, put(GOOD, "/name", "\U0001f95a egg")).name == "\U0001f95a egg"  # a whole pair is a character


@pytest.mark.parametrize("value", [{"name": object()}, {"name": b"x"}, {1, 2}, {(1,): 2}, {"name": 10**5000}])
def test_what_no_json_can_hold_is_refused(value):
    assert faults(value).problems[0].pointer == ""


@pytest.mark.parametrize("kind", [list, tuple, dict])
def test_depth_is_counted_in_lists_and_objects_alike(kind):
    def nested(levels):
        value = 1
        for _ in range(levels):
            value = {"a": value} if kind is dict else kind([value])
        return value

    check_depth(nested(64))
    with pytest.raises(JobError, match="64 levels"):
        check_depth(nested(65))
    with pytest.raises(JobError, match="64 levels"):
        read(Tree, nested(100_000))


def test_a_loop_in_a_value_is_refused():
    loop = {}
    loop["a"] = loop
    assert faults(loop).problems[0].pointer == ""


def test_the_table_of_words_has_no_leftovers_of_another_language():
    context = {"min_length": 1, "max_length": 2, "gt": 0, "ge": 0, "lt": 1, "le": 1, "expected": "'a' or 'b'"}
    context |= {"expected_tags": "'a', 'b'", "discriminator": "'shape'", "error": "what is wrong"}
    for words in _ALLOWED.values():
        said = words(context)
        assert said and said == said.strip() and "'" not in said and not said.endswith(".")
