"""One browser for all tests of the page; skipped, with the reason, where Chromium is missing."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browser import QUIETLY, chromium
from playwright.sync_api import Browser, sync_playwright

DEBIAN = "apt-get install chromium"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium()
    if path is None:
        pytest.skip(f"no Chromium here ({DEBIAN})")  # a browser belongs to the machine, not to the checkout
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=list(QUIETLY))
        yield started
        started.close()
