"""Tests of engine.measure."""
