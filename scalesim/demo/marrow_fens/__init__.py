"""Marrow Fens: a map and a town."""
