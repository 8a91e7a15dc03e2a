"""The rules of WCAG 2.2, levels A and AA, as axe-core checks them on a page of the browser."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

AA = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
COLOUR = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}
"""The rule that light and dark can break each by itself; all others are about what is on the page."""


def violations(page: Page, rules: dict[str, object]) -> list[str]:
    """What is wrong, one line each."""
    found = Axe().run(page, options=rules).response["violations"]
    return [f"{v['id']}: {v['nodes'][0]['html']}: {v['nodes'][0]['failureSummary']}" for v in found]
