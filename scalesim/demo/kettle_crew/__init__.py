"""Kettle Crew: a hand-drawn scene."""
