"""Clips in and out."""
