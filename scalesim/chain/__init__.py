"""Chains: text, TOML and Python forms, resolving on a raster, and running over streams of pictures."""

from scalesim.chain.chain import Chain, as_chain

__all__ = ["Chain", "as_chain"]
