"""Every rule has one season with its gap and a near twin without it."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING

import pytest
from stand_ins import StandIns

from certgen.examination import examine_season
from certgen.records.rows import plain_values
from certgen.records.tables import load_tables
from certgen.rules import RULES
from certgen.rules.example_seasons import EXAMPLES, EXAMPLES_ON, load_example
from certgen.rules.headlines import MOST
from certgen.standards.season_reading import read_case

if TYPE_CHECKING:
    from certgen.rules.findings import Gap

COVERS = ("certgen.rules", "certgen.rules.example_seasons", "certgen.rules.headlines")


#: By rule the gaps of its bad example and every identifier there, kept from the first test for the second.
told: dict[str, tuple[list[Gap], set[str]]] = {}


def found(folder, kind, slug):
    """(line, slug) of every place of every gap; a place in another file shows its file instead."""
    season, errors = read_case(folder)

    # What couldn't be read is a gap of its own, which the example has to mark.
    unread = {(one.error.file, one.error.left_out) for one in season.unread}
    assert unread == {(error.file, error.left_out) for error in errors}
    result = examine_season(season, EXAMPLES_ON, packets=StandIns())
    if kind == "bad":
        told[slug] = (list(result.gaps), identifiers(season))
    places = [(place, gap.rule) for gap in result.gaps for place in (gap.place, *gap.others)]
    where = season.locate(place for place, _ in places if place.file in season.sources)
    lines = season.sources[f"{kind}.yaml"].text.splitlines()

    def line(place):
        if place.file == f"{kind}.yaml":
            return where[place][0]
        if place.file.startswith("evidence/"):
            # A file that stands in no record is named in a comment of the example.
            name = place.file.removeprefix("evidence/")
            return next(number for number, text in enumerate(lines, start=1) if name in text)
        return f"{place.file}: {place.path}"

    return {(line(place), slug) for place, slug in places}


@pytest.mark.parametrize("slug", RULES)
def test_bad_example_has_the_marked_gaps_and_no_other(slug, tmp_path):
    """The faulty line, and only that, is found."""
    bad = load_example(slug, "bad")

    assert slug in {marked for _, marked in bad.marks}
    assert set(bad.marks) == found(bad.write(tmp_path), "bad", slug)


def identifiers(season):
    """Every number that a record or a paper of the season bears, and its label."""
    keyed = [season.table(name)[table.key] for name, table in load_tables().items() if table.key]
    named = {
        one for column in (*keyed, season.table("movements")["document"]) for one in plain_values(column)
    }
    return {str(one) for one in named if one is not None} | {season.details.label}


@pytest.mark.parametrize("slug", RULES)
def test_headlines_name_the_thing(slug, tmp_path):
    """A gap in one line names its record, its lot or its paper, and is words, not fields."""
    if slug not in told:
        found(load_example(slug, "bad").write(tmp_path), "bad", slug)
    gaps, known = told[slug]
    for gap in gaps:
        line = gap.headline
        words = set(re.split(r"[\s,:;()]+", line))

        assert 12 <= len(line) <= MOST
        assert line[0] == line[0].upper()
        assert not line.endswith((".", ",", ":"))
        assert "`" not in line
        assert "_" not in line
        assert "{" not in line
        # Many letters are one gap, and what couldn't be read has no number among the records.
        assert words & {*known, *gap.ids, *gap.lots} or gap.rule in {"letter-unfiled", "record-unread"}


@pytest.mark.parametrize("slug", RULES)
def test_good_example_is_clean(slug, tmp_path):
    """The near twin has no gap at all."""
    good = load_example(slug, "good")

    assert set() == good.marks
    assert set() == found(good.write(tmp_path), "good", slug)


@pytest.mark.parametrize("slug", RULES)
def test_the_two_examples_are_near_twins(slug):
    """They are one edit apart, which may show at two places (a variety's name and its label)."""
    bad, good = (load_example(slug, kind).text for kind in ("bad", "good"))
    bare = [line.partition("# gap:")[0].rstrip() for line in bad.splitlines()]
    steps = difflib.SequenceMatcher(None, bare, good.splitlines()).get_opcodes()
    edits = [step for step in steps if step[0] != "equal"]

    assert 1 <= len(edits) <= 2


def test_every_example_belongs_to_a_rule():
    """A folder of examples without a rule would never be looked at; one more holds the base's letters."""
    assert {*RULES, "evidence"} == {folder.name for folder in EXAMPLES.iterdir() if folder.is_dir()}
