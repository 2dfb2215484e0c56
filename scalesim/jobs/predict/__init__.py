"""Predict: what a frame looks like after a chain."""
