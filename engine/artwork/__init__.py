"""The artwork stage."""
