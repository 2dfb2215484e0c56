"""Tune: which setting to dial in."""
