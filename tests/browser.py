"""A real browser for tests of pages: fixtures ``browser`` and ``page_at``, and what a good page has to hold.

``page_at(width)`` opens an empty page of that width and keeps what its console complains of and what it asks for::

    def test_my_page(page_at, tmp_path):
        seen = page_at(390)
        seen.page.goto(address)
        assert seen.errors == []
        assert seen.requests == [address]
        assert layout_faults(seen.page) == []
        assert accessibility_faults(seen.page) == []
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PHONE, DESK = 390, 1280
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
# Glyph boxes of neighbouring lines may touch by this much, in CSS pixels.
TOUCH_PX = 2.0


@dataclass
class Seen:
    """One page, what its console complained of, and every address it asked for, ``data:`` left out."""

    page: Page
    errors: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Headless Chromium as the system installed it; skips where there is none."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium")
    if path is None:
        pytest.skip("chromium is not installed: apt-get install chromium")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=list(QUIET))
        yield chromium
        chromium.close()


@pytest.fixture
def page_at(browser: Browser) -> Iterator[Callable[..., Seen]]:
    """A function that opens a page of a given width [CSS px], watched from the start; closed after the test."""
    contexts = []

    def open_page(width: int, height: int = 900) -> Seen:
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        seen = Seen(context.new_page())
        seen.page.on("console", lambda said: seen.errors.append(said.text) if said.type == "error" else None)
        seen.page.on("pageerror", lambda error: seen.errors.append(str(error)))
        seen.page.on(
            "request", lambda asked: None if asked.url.startswith("data:") else seen.requests.append(asked.url)
        )
        return seen

    yield open_page
    for context in contexts:
        context.close()


def layout_faults(page: Page) -> list[str]:
    """What is wrong with the layout: the page scrolls sideways, text is cut, or two texts overlap."""
    faults: list[str] = page.evaluate(LAYOUT, TOUCH_PX)
    return faults


def accessibility_faults(page: Page) -> list[str]:
    """What axe-core finds against WCAG 2 A and AA, and elements it names."""
    from axe_playwright_python.sync_playwright import Axe

    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found: Any = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}}).response
    return [
        f"{violation['id']}: {violation['help']}: {node['html'][:120]}"
        for violation in found["violations"]
        for node in violation["nodes"]
    ]


# A text's boxes are those of its lines, less what an ancestor that scrolls or hides keeps out of sight.
LAYOUT = """
touch => {
  const faults = [], boxes = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth)
    faults.push(`the page is ${root.scrollWidth} px wide in a window of ${root.clientWidth} px`);
  const clips = style => style.overflowX !== 'visible' || style.overflowY !== 'visible';
  for (const element of document.body.querySelectorAll('*')) {
    const style = getComputedStyle(element);
    const hides = style.overflowX === 'hidden' || style.overflowX === 'clip' || style.textOverflow === 'ellipsis';
    if (hides && element.clientWidth > 1 && element.textContent.trim() && element.scrollWidth > element.clientWidth)
      faults.push(`text is cut: ${element.textContent.trim().slice(0, 60)}`);
    const hidesDown = style.overflowY === 'hidden' || style.overflowY === 'clip';
    if (hidesDown && element.clientHeight > 1 && element.textContent.trim()
        && element.scrollHeight > element.clientHeight + touch)
      faults.push(`text is cut below: ${element.textContent.trim().slice(0, 60)}`);
  }
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const text = node.textContent.trim();
    const parent = node.parentElement;
    if (!text || !parent.checkVisibility({visibilityProperty: true, opacityProperty: true})) continue;
    if (['SCRIPT', 'STYLE', 'OPTION', 'NOSCRIPT'].includes(parent.tagName)) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const rect of range.getClientRects()) {
      let {left, right, top, bottom} = rect;
      for (let above = parent; above && above !== document.body; above = above.parentElement) {
        if (!clips(getComputedStyle(above))) continue;
        const edge = above.getBoundingClientRect();
        left = Math.max(left, edge.left); right = Math.min(right, edge.right);
        top = Math.max(top, edge.top); bottom = Math.min(bottom, edge.bottom);
      }
      if (right - left > touch && bottom - top > touch) boxes.push({left, right, top, bottom, text});
    }
  }
  boxes.sort((one, other) => one.top - other.top);
  boxes.forEach((one, place) => {
    if (one.right > root.clientWidth + touch || one.left < -touch)
      faults.push(`text runs off the page: ${one.text.slice(0, 60)}`);
    for (let next = place + 1; next < boxes.length && boxes[next].top < one.bottom - touch; next++) {
      const other = boxes[next];
      if (Math.min(one.right, other.right) - Math.max(one.left, other.left) > touch)
        faults.push(`texts overlap: ${one.text.slice(0, 60)} | ${other.text.slice(0, 60)}`);
    }
  });
  return faults;
}
"""
