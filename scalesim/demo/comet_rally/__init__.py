"""Comet Rally: a racing game."""
