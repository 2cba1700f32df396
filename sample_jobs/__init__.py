"""Sample jobs of the seed-swap fair, shipped as data."""
