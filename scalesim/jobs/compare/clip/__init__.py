"""Comparison clips: chains beside each other, below each other or under a moving wipe, as they move."""
