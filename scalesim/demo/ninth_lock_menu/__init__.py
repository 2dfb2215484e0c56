"""Ninth Lock: a menu."""
