"""The marking stage."""
