"""Lag logs: readings of lag over time, what kind of lag they show, how fast it drifts and when it wraps."""
