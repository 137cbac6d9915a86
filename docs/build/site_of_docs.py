"""What the site needs beside docs/: the README as its front page, and what the pages link to outside docs/.

A hook of MkDocs. Links are written for the repository, so that they work there; here they are turned to the places
that files have in the site.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files
    from mkdocs.structure.pages import Page

REPOSITORY = Path(__file__).parents[2]
# Pages of the top level, by their place in the site.
TOP_PAGES = {"index.md": "README.md", "developers.md": "DEVELOPERS.md"}
LINK = re.compile(r"(\]\()([^)\s#:]+)(#[^)\s]*)?(\))")


def repository_place(site_place: str) -> str:
    """The place of a page in the repository, given its place in the site."""
    return TOP_PAGES.get(site_place, f"docs/{site_place}")


def site_place(repository_place: str) -> str:
    """The place of a file in the site, given its place in the repository."""
    for place, page in TOP_PAGES.items():
        if page == repository_place:
            return place
    return repository_place.removeprefix("docs/")


def linked(markdown: str, page: str) -> Iterator[str]:
    """Places in the repository that a page links to, given its text and its own place there."""
    for match in LINK.finditer(markdown):
        yield posixpath.normpath(posixpath.join(posixpath.dirname(page), match[2]))


def with_links_of_the_site(markdown: str, place: str) -> str:
    """A page whose links hold in the site, given its text and its place in the site."""
    page = repository_place(place)

    def turned(match: re.Match[str]) -> str:
        target = posixpath.normpath(posixpath.join(posixpath.dirname(page), match[2]))
        relative = posixpath.relpath(site_place(target), posixpath.dirname(place) or ".")
        return f"{match[1]}{relative}{match[3] or ''}{match[4]}"

    return LINK.sub(turned, markdown)


def outside(pages: Iterable[tuple[str, str]]) -> set[str]:
    """Files outside docs/ that pages link to, given each page's text and place in the repository."""
    found = {target for text, page in pages for target in linked(text, page)}
    return {target for target in found if not target.startswith("docs/") and target not in TOP_PAGES.values()}


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """All files of the site, given those under docs/."""
    from mkdocs.structure.files import File

    pages = [(file.content_string, repository_place(file.src_uri)) for file in files.documentation_pages()]
    for place, name in TOP_PAGES.items():
        text = (REPOSITORY / name).read_text("utf-8")
        pages.append((text, name))
        files.append(File.generated(config, place, content=text))
    for name in sorted(outside(pages)):
        files.append(File.generated(config, name, abs_src_path=str(REPOSITORY / name)))
    return files


def on_page_markdown(markdown: str, page: Page, config: MkDocsConfig, files: Files) -> str:
    """A page's text with the links of the site."""
    return with_links_of_the_site(markdown, page.file.src_uri)
