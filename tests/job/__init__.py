"""Tests of the job document."""
