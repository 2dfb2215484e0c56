"""Pocket Orchard: a village seen from above."""
