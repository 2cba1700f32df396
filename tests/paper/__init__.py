"""Tests of the paper pattern."""
