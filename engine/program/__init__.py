"""The program stage."""
