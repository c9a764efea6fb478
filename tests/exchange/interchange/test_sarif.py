"""Findings stand in their place seen from the repository, and each rule says what it means."""

from __future__ import annotations

import datetime as dt
import shutil
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pytest

from certgen.examination import Result, examine
from certgen.exchange.interchange.sarif import build_sarif, find_way

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ON = dt.date(2026, 10, 31)


@pytest.fixture
def repository(seasons: Any, tmp_path: Path) -> Path:
    """A repository with a season two folders down, and a record in it that can't be read."""
    (tmp_path / ".git").mkdir()
    folder = tmp_path / "our farm" / "2026"
    folder.mkdir(parents=True)
    seasons.write_season(folder, **seasons.one_line())
    (folder / "more.yaml").write_text("trees:\n  - {tree: T9, planting: P1, hight: 2 m}\n")
    return tmp_path


def files_of(log: dict[str, Any]) -> Iterator[dict[str, str]]:
    """Every file that a result names."""
    for result in log["runs"][0]["results"]:
        for place in (*result["locations"], *result.get("relatedLocations", ())):
            yield place["physicalLocation"]["artifactLocation"]


def test_paths_begin_at_the_repositorys_root(repository: Path) -> None:
    """Each leads from there to a file that is there, records that can't be read too."""
    log = build_sarif(examine(repository / "our farm" / "2026", ON))
    told = list(files_of(log))

    assert "our%20farm/2026/more.yaml" in {one["uri"] for one in told}
    assert [] == [one["uri"] for one in told if not (repository / unquote(one["uri"])).is_file()]
    assert {"%SRCROOT%"} == {one["uriBaseId"] for one in told} == set(log["runs"][0]["originalUriBaseIds"])


def test_the_root_is_the_nearest_one(repository: Path) -> None:
    """A worktree's `.git` is a file; a season that is a repository of its own is its own root."""
    farm = repository / "our farm"
    assert ["our farm/2026", ""] == [find_way(farm / "2026"), find_way(repository)]
    (farm / ".git").write_text("gitdir: elsewhere\n")
    assert "2026" == find_way(farm / "2026")
    (farm / "2026" / ".git").mkdir()
    assert "" == find_way(farm / "2026")


def test_outside_a_repository_paths_begin_at_the_season(repository: Path) -> None:
    """As they always did."""
    shutil.rmtree(repository / ".git")
    if find_way(repository):
        pytest.skip("the tests' own folder lies in a repository")
    log = build_sarif(examine(repository / "our farm" / "2026", ON))

    assert "more.yaml" in {one["uri"] for one in files_of(log)}
    assert "The season's folder." == log["runs"][0]["originalUriBaseIds"]["%SRCROOT%"]["description"]["text"]


def test_each_rule_says_what_it_means_and_what_mends_it(example_season: Path) -> None:
    """In words, for there is no page to lead to."""
    result: Result = examine(example_season, ON)
    driver = build_sarif(result)["runs"][0]["tool"]["driver"]

    assert driver["rules"]
    for rule in driver["rules"]:
        assert f"certgen rules {rule['id']}" in rule["help"]["text"]
        assert "What mends it" in rule["help"]["markdown"]
        assert rule["fullDescription"]["text"] in rule["help"]["text"]
        assert rule["defaultConfiguration"]["level"] in {"error", "warning", "note"}
        assert not {"helpUri"} & rule.keys()
    assert "informationUri" not in driver
