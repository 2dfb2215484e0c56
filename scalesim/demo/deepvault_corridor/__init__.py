"""Deepvault: a corridor."""
