"""The binder of the small season, made once."""

from __future__ import annotations

import pytest

from certgen.report.binder import compose_html


@pytest.fixture(scope="session")
def binder(result) -> str:
    """The binder of the small season, hostile in every free text."""
    return compose_html(result)
