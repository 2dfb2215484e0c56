"""Fixtures of the page tests: a browser, a page with a viewer on it, and one written comparison."""

from __future__ import annotations

from page.browser import chromium, open_page
from page.compared import beside, comparison, folder, written
from page.viewer_page import opened

__all__ = ["beside", "chromium", "comparison", "folder", "open_page", "opened", "written"]
