"""The page, shipped as data."""
