"""Roundwright's planning engine: pure stages from a job document to a proven machine program."""
