"""The process that helps to set a document has loaded what sets pages before it is asked for any."""

from __future__ import annotations

import pytest

from certgen.typeset import setting_pool
from certgen.typeset.pango import PangoMissingError
from certgen.typeset.setting_pool import open_setting_pool


def test_the_other_process_has_loaded_what_sets_pages() -> None:
    """Both engines, by the time that the first piece of work is there."""
    with open_setting_pool("Letter", 2) as pool:
        loaded = pool.send(eval, "{'typst', 'weasyprint'} <= {*__import__('sys').modules}").result(120)

    assert loaded


def test_one_job_is_this_process_alone() -> None:
    """No process is started that nobody asked for."""
    with open_setting_pool(jobs=1) as pool:
        assert not pool.is_several


def test_nothing_is_started_where_pages_cannot_be_set(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is said at once, before any record is read."""

    def lack() -> None:
        raise PangoMissingError

    monkeypatch.setattr(setting_pool, "hold_pango", lack)
    with pytest.raises(PangoMissingError):
        open_setting_pool()
