"""Likeness to an ideal scaling of the same source."""
