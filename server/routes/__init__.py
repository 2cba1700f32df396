"""The routes, one resource a module."""
