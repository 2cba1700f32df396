"""What the tests of this folder share."""

import pytest


@pytest.fixture
def all_cells(monkeypatch):
    """The carved field as the proof has it, not thinned by the deepest of each block for the page."""
    monkeypatch.setattr("engine.outcome.preview.MOST_CARVED", 10**9)
