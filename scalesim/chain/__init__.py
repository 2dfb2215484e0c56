"""Chains: text, TOML and Python forms, planning, and running over streams of pictures."""

from scalesim.chain.chain import Chain

__all__ = ["Chain"]
