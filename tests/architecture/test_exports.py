"""Every package says what it offers, the list is sorted and real, and importing it sets nothing off."""

import importlib
import pkgutil

import pytest

import engine

PACKAGES = ["engine", *(f"engine.{m.name}" for m in pkgutil.iter_modules(engine.__path__) if m.ispkg)]


@pytest.mark.parametrize("name", PACKAGES)
def test_the_public_list_is_sorted_and_real(name):
    package = importlib.import_module(name)
    listed = getattr(package, "__all__", [])
    assert len(listed) == len(set(listed))
    for word in listed:
        assert hasattr(package, word), f"{name} lists {word} and has it not"
    public = {w for w, v in vars(package).items() if not w.startswith("_") and not isinstance(v, type(engine))}
    assert public - set(listed) == set(), f"{name} has names that it does not list"


@pytest.mark.parametrize("name", PACKAGES)
def test_every_module_and_public_function_says_what_it_is(name):
    package = importlib.import_module(name)
    for info in pkgutil.iter_modules(package.__path__):
        module = importlib.import_module(f"{name}.{info.name}")
        assert module.__doc__, f"{module.__name__} has no opening paragraph"
