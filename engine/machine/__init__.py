"""The machine stage."""
