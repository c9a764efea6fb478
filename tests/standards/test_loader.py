from __future__ import annotations

import pickle
import subprocess
import sys

import pytest

from certgen.standards import PROFILES, RULEBOOKS, StandardError, clause_of, load_profile, load_rulebook
from certgen.standards.reading import DATA


def test_names_and_files_agree() -> None:
    """Every data file can be loaded by a name that is listed, and every listed name has its file."""
    assert set(RULEBOOKS) == {file.stem for file in DATA.joinpath("rulebooks").glob("*.yaml")}
    assert set(PROFILES) == {file.stem for file in DATA.joinpath("profiles").glob("*.yaml")}


@pytest.mark.parametrize("key", RULEBOOKS)
def test_clauses_are_known_by_their_rulebook_and_number(key) -> None:
    """A clause's key leads back to it, and says which rulebook to open."""
    for name, clause in load_rulebook(key).clauses.items():
        assert name == clause.key
        assert name.startswith(f"{key}:")
        assert clause is clause_of(name)


@pytest.mark.parametrize("load", [load_rulebook, load_profile])
def test_what_is_loaded_is_shared(load) -> None:
    """A file is read once in a process."""
    key = "us-nop" if load is load_rulebook else "papaya"

    assert load(key) is load(key)


@pytest.mark.parametrize(
    ("load", "name", "message"),
    [
        (load_rulebook, "us-nopp", "unknown standard 'us-nopp'. Did you mean 'us-nop'? Known are us-nop, eu"),
        (load_rulebook, "../profiles/papaya", "unknown standard '../profiles/papaya'. "),
        (load_profile, "Papaya", "unknown crop 'Papaya'. Did you mean 'papaya'? Known are papaya, squash"),
        (load_profile, "teak", "unknown crop 'teak'. Known are papaya, squash"),
    ],
)
def test_an_unknown_name_lists_the_known_ones(load, name, message) -> None:
    """A grower who misspells a standard or a crop is told what there is; nothing outside the data is
    opened.
    """
    with pytest.raises(StandardError) as caught:
        load(name)

    assert str(caught.value).startswith(message)


def test_a_clause_of_practice_needs_a_profile() -> None:
    """Practice figures belong to a crop."""
    assert "practice:rinses" == clause_of("practice:rinses", load_profile("papaya")).key
    with pytest.raises(StandardError, match="which crop's profile"):
        clause_of("practice:rinses")


@pytest.mark.parametrize("key", ["us-nop:205.103(b)(9)", "nowhere:1", "practice:nothing"])
def test_an_unknown_clause_is_a_mistake(key) -> None:
    """A rule cannot cite what no rulebook and no profile holds."""
    with pytest.raises(StandardError):
        clause_of(key, load_profile("papaya"))


@pytest.mark.parametrize("loaded", [*map(load_rulebook, RULEBOOKS), *map(load_profile, PROFILES)])
def test_what_is_loaded_travels_between_processes(loaded) -> None:
    """A co-op's office examines members in several processes."""
    assert loaded == pickle.loads(pickle.dumps(loaded))


def test_importing_the_room_reads_nothing() -> None:
    """Start-up pays for no YAML library until a standard is asked for."""
    code = "import sys, certgen.standards; sys.exit('yaml' in sys.modules)"

    assert 0 == subprocess.run([sys.executable, "-c", code], check=False).returncode
