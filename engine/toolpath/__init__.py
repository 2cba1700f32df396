"""The toolpath stage."""
