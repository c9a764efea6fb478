from __future__ import annotations

import copy
import pickle

import pytest
import yaml

from certgen.standards.reading import DATA, FrozenMapping, Section, StandardError, read_data

FILES = sorted(DATA.rglob("*.yaml"))


def test_an_unknown_entry_is_named_with_its_place() -> None:
    """A misspelt key in a data file cannot pass as a demand that nobody makes."""
    with (
        pytest.raises(StandardError, match=r"^file\.yaml: unknown entry tilte$"),
        Section({"tilte": "x"}, "file.yaml"),
    ):
        pass


def test_an_error_inside_a_section_is_not_hidden_by_its_leftovers() -> None:
    """The first thing wrong is the one that is told."""
    with pytest.raises(StandardError, match="'title' is missing"), Section({"tilte": "x"}, "f") as section:
        section.text("title")


@pytest.mark.parametrize(
    ("read", "value", "wanted"),
    [
        (Section.text, 3, "text"),
        (Section.text, "  ", "text"),
        (Section.number, "3", "a number"),
        (Section.number, True, "a number"),
        (Section.flag, "yes", "true or false"),
        (Section.words, "a", "a list of texts"),
        (Section.words, ["a", 3], "a list of texts"),
        (Section.words, ["a", "a"], "without repeats"),
        (Section.value, {"a": 1}, "a list of texts"),
        (Section.section, ["a"], "a mapping"),
        (Section.section, None, "found nothing"),
    ],
)
def test_a_mistyped_entry_is_named_with_what_was_wanted(read, value, wanted) -> None:
    """The message says where the entry stands and what belongs there."""
    with pytest.raises(StandardError, match=wanted) as caught:
        read(Section({"entry": value}, "file.yaml"), "entry")

    assert str(caught.value).startswith("file.yaml.entry: expected ")


def test_a_key_that_yaml_took_for_a_number_is_refused() -> None:
    """A clause number such as 5.1 must be quoted, or 5.10 would become it."""
    with pytest.raises(StandardError, match="put it in quotes"):
        Section({5.1: "Land"}, "file.yaml")


def test_text_is_folded_to_one_line() -> None:
    """How a data file is wrapped does not show."""
    assert "one two" == Section({"a": "one\n  two\n"}, "f").text("a")


def test_a_missing_file_says_what_to_do() -> None:
    """A broken installation is not a traceback."""
    with pytest.raises(StandardError, match="install the package again"):
        read_data("rulebooks", "nowhere")


def test_broken_yaml_is_named(monkeypatch, tmp_path) -> None:
    """A data file that is not YAML is told by its name."""
    (tmp_path / "broken.yaml").write_text("a: [", encoding="utf-8")
    monkeypatch.setattr("certgen.standards.reading.DATA", tmp_path)

    with pytest.raises(StandardError, match=r"^broken\.yaml: not readable as YAML"):
        read_data("broken")


@pytest.mark.parametrize(
    "change", ["m['a'] = 2", "del m['a']", "m.update(a=2)", "m.pop('a')", "m.clear()", "m |= {}"]
)
def test_a_frozen_mapping_refuses_changes(change) -> None:
    """All readers share one copy, so none may change it."""
    frozen = FrozenMapping(a=1)

    with pytest.raises(TypeError, match="read-only"):
        exec(change, {"m": frozen})
    assert {"a": 1} == frozen


@pytest.mark.parametrize("twin", [copy.copy, copy.deepcopy, lambda one: pickle.loads(pickle.dumps(one))])
def test_a_frozen_mapping_travels_between_processes(twin) -> None:
    """A co-op's office examines members in several processes; what comes back is equal and still frozen."""
    found = twin(FrozenMapping(a=FrozenMapping(b=1)))

    assert {"a": {"b": 1}} == found
    assert isinstance(found, FrozenMapping)


def repeated_keys(node: yaml.Node, place: str = "") -> list[str]:
    """Every key that stands twice in one mapping below a node."""
    found = []
    if isinstance(node, yaml.MappingNode):
        keys = [key.value for key, _ in node.value]
        found += [f"{place}.{key}" for key in set(keys) if keys.count(key) > 1]
        for key, value in node.value:
            found += repeated_keys(value, f"{place}.{key.value}")
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            found += repeated_keys(item, place)
    return found


def test_repeated_keys_are_found() -> None:
    """The check below can fail."""
    assert [".a.b"] == repeated_keys(yaml.compose("a: {b: 1, c: 2, b: 3}", Loader=yaml.SafeLoader))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_no_data_file_says_one_thing_twice(file) -> None:
    """YAML lets a second entry silently replace a first; no clause may vanish that way."""
    assert [] == repeated_keys(yaml.compose(file.read_text(encoding="utf-8"), Loader=yaml.SafeLoader))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_data_files_name_no_address(file) -> None:
    """Sources are given in their public form, as a work and a place in it."""
    text = file.read_text(encoding="utf-8").casefold()

    assert [] == [sign for sign in ("http", "www.", ".com", ".org", ".gov", "@") if sign in text]
