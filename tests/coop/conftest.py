"""Small co-ops for the tests: the clean season of the rules' examples, with numbers of its own."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from certgen.coop.examination import Settings, examine_coop
from certgen.coop.members.facts import MemberSummary, Stated
from certgen.coop.members.member_list import Coop, Member, read_coop

if TYPE_CHECKING:
    from certgen.coop.between.result import CoopResult
    from certgen.limits import Limits

ROOT = Path(__file__).resolve().parents[2]
BASE = ROOT / "certgen" / "rules" / "examples" / "base.yaml"
ON = date(2026, 11, 25)

WriteMember = Callable[..., Path]
WriteCoop = Callable[..., Path]


def season_text(key: str, changes: Mapping[str, str] | None = None) -> str:
    """The clean season with lots, reports, certificate and measures that are the member's own."""
    text = BASE.read_text(encoding="utf-8")
    own = {
        "petiole: 28 mm": f"petiole: {25 + sum(map(ord, key)) % 24} mm",
        "weight: 1.9 kg": f"weight: 1.{sum(map(ord, key)) % 90 + 10} kg",
        "wet_weight: 60 g": f"wet_weight: {55 + sum(map(ord, key)) % 10} g",
        "BF-": f"BF-{key}-",
        "L1": f"{key}-1",
        "L2": f"{key}-2",
        "C-0417": f"CERT-{key}",
        "INV-": f"INV-{key}-",
    }
    for old, new in {**own, **(changes or {})}.items():
        text = text.replace(old, new)
    return text


@pytest.fixture
def write_coop(tmp_path: Path) -> WriteCoop:
    """Writes a co-op of members with clean seasons, and gives its folder."""

    def write(*keys: str, changes: Mapping[str, Mapping[str, str]] | None = None, coop: str = "") -> Path:
        folder = tmp_path / "coop"
        entries = []
        for key in keys:
            home = folder / "members" / key
            home.mkdir(parents=True, exist_ok=True)
            text = season_text(key, (changes or {}).get(key))
            (home / "season.yaml").write_text(text, encoding="utf-8")
            for named in re.findall(r"letters/[\w-]+\.txt", text):
                letter = home / "evidence" / named
                letter.parent.mkdir(parents=True, exist_ok=True)
                letter.write_text(f"Leaf samples of {key}: all negative.\n", encoding="utf-8")
            entries.append(
                f"  - member: {key}\n    name: Farm {key}\n    folder: members/{key}\n"
                f"    certificate: CERT-{key}\n    joined: 2020-01-01\n"
            )
        (folder / "coop.yaml").write_text(f"coop:\n  name: A test co-op\n{coop}members:\n{''.join(entries)}")
        return folder

    return write


def _examine(
    folder: Path, cache: Path | None = None, workers: int = 1, limits: Limits | None = None
) -> CoopResult:
    coop, errors = read_coop(folder)
    assert coop is not None, errors
    return examine_coop(folder, coop, ON, Settings(cache, workers, limits=limits))


@pytest.fixture
def examine() -> Callable[..., CoopResult]:
    """Gives a co-op's result, in this process unless limits are given."""
    return _examine


@pytest.fixture(scope="session")
def example_coop() -> Path:
    """The invented co-op that ships with certgen."""
    return ROOT / "example_coop"


@pytest.fixture(scope="session")
def example_result(example_coop: Path) -> CoopResult:
    """The example co-op, examined once for all tests."""
    return _examine(example_coop)


def _member(key: str, joined: date = date(2020, 1, 1)) -> Member:
    return Member(key, f"Farm {key}", "folder", f"members/{key}", f"CERT-{key}", joined)


@pytest.fixture
def member() -> Callable[..., Member]:
    """Makes a member that nobody reads."""
    return _member


@pytest.fixture
def coop_of() -> Callable[..., Coop]:
    """Makes a co-op of such members."""

    def make(*keys: str, shared: tuple[str, ...] = ()) -> Coop:
        members = tuple(_member(key) for key in keys)
        return Coop("A test co-op", members, standards=("us-nop",), shared_equipment=shared)

    return make


@pytest.fixture
def summary() -> Callable[..., MemberSummary]:
    """Makes a member as examined, with the facts that a test is about."""

    def make(key: str, **facts: Any) -> MemberSummary:
        stated = Stated(
            operation=f"Farm {key}", certificate=f"CERT-{key}", label="2026", standards=("us-nop",)
        )
        found = MemberSummary(member=key, state="read", fingerprint=f"seal of {key}", stated=stated)
        return replace(found, **facts)

    return make
