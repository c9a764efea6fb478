"""The process that helps to set a document: it loads what sets pages while records are still being read."""

from __future__ import annotations

from functools import partial

from certgen.process_pool import Pool, count_cores
from certgen.typeset.memory import return_large_blocks
from certgen.typeset.pango import hold_pango


def open_setting_pool(page: str = "A4", jobs: int | None = None) -> Pool:
    """The processes that help to set a document on a paper; `jobs` is how many set it with this one
    (None: two, where there are two cores).

    Raises `PangoMissingError` where the system can't set pages.
    """
    hold_pango()
    return_large_blocks()
    return Pool((jobs or min(2, count_cores())) - 1, partial(load_engines, page))


def load_engines(page: str) -> None:
    """Load what sets pages, and read the style sheet, ahead of the first page: it takes a second."""
    import typst

    from certgen.typeset import compose, html_pages
    from certgen.typeset.design import find_sheet

    _ = typst, compose
    html_pages.read_style(html_pages.style_sheet(find_sheet(page)))
