"""Flashes that can set off a seizure: counted, and held against the published limits."""
