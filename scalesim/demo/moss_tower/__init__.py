"""Moss Tower: a platform scene."""
