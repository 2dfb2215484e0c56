"""Identify: what a box does to lines."""
