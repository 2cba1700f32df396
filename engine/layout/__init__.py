"""The layout stage."""
