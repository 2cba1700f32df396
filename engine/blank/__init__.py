"""The blank stage."""
