"""Whole programs of the sample jobs."""
