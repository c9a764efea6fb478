"""A Dask cluster takes the same path as this machine's processes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from certgen.coop.examination import Settings, examine_coop
from certgen.coop.members.member_list import read_coop

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from certgen.coop.between.result import CoopResult

distributed = pytest.importorskip("distributed")


def test_a_cluster_gives_what_one_process_gives(
    write_coop: Callable[..., Path], examine: Callable[..., CoopResult]
) -> None:
    """A scheduler with one worker: the same result, to the last fact."""
    folder = write_coop("A", "B", "C")
    expected = examine(folder)
    coop, _ = read_coop(folder)
    assert coop is not None
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        settings = Settings(None, 0, cluster.scheduler_address)
        assert expected == examine_coop(folder, coop, expected.on, settings)
