"""Trying settings of a chain on frames: what tuning and finding the present position share."""
