from __future__ import annotations

import pytest
from printed import plain

from certgen.dossier.mending import say_unweighed


class Unweighed:
    """A result of which so many lots weren't weighed."""

    def __init__(self, lots: int) -> None:
        self.unweighed = lots


@pytest.mark.parametrize(("lots", "told"), [(1, "for 1 lot was"), (7, "for 7 lots was")])
def test_what_was_not_weighed_is_said(lots, told):
    """With its number, and what to do."""
    said = plain(say_unweighed(Unweighed(lots)))

    assert told in said
    assert said.endswith("Do what is listed and check again.")


def test_nothing_is_said_where_all_was_weighed():
    """As ever."""
    assert "" == say_unweighed(Unweighed(0))
