"""Traces: what oscilloscopes export, read as volts at equal steps of time."""
