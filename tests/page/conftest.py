"""Fixtures of the page tests: a browser, and a page with a viewer on it."""

from __future__ import annotations

from page.browser import chromium, open_page
from page.viewer_page import opened

__all__ = ["chromium", "open_page", "opened"]
