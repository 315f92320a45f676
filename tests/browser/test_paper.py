"""The decision sheet on paper: two pages, on either size."""

from __future__ import annotations

import re

import pytest


@pytest.mark.parametrize("size", ["Letter", "A4"])
def test_the_paper_prints_on_two_pages(browser, server, size):
    page = browser.new_page()
    page.goto(server.address + "/paper")
    pages = len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=size)))
    page.close()
    assert pages <= 2
