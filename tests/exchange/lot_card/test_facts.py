"""A lot's card tells of one lot, and nothing of any other record."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pikepdf
import pytest
from pages import text_of

from certgen.examination import examine
from certgen.exchange.lot_card.facts import CardError, digest_facts, gather_facts
from certgen.exchange.lot_card.page import set_card
from certgen.records.rows import is_absent, plain_values
from certgen.records.tables import load_tables
from certgen.report.packet import find_maker
from certgen.resources import schemas_dir

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from certgen.examination import Result

PACKET = "ab" * 32
#: Columns whose words are a person's, a party's, a paper's, a place's or anybody's own.
TELLING = (
    "party", "document", "laboratory", "recorded_by", "by", "note", "action", "supplier", "report",
    "evidence", "origin.supplier", "name", "boundary", "history", "mark", "reason", "material", "row",
    "position",
)  # fmt: skip

#: What people wrote as a material, an action or a source, and anybody's card may say.
ORDINARY = {"germination", "organic", "own", "seed"}


@pytest.fixture(scope="module")
def result(example_season: Path) -> Result:
    """The example season, examined."""
    return examine(example_season, dt.date(2026, 11, 25))


def facts_of(result: Result, lot: str, **more: Any) -> dict[str, Any]:
    """What a lot's card tells, beside a packet that nobody made."""
    return gather_facts(result, lot, PACKET, find_maker(result), **more)


def words_of(result: Result) -> Iterator[str]:
    """Every identifier of the example's records in reach, and what people wrote beside them."""
    season = result.season
    while season is not None:
        for name, table in load_tables().items():
            frame = season.tables[name]
            for column in {table.key, *TELLING} & set(frame.columns):
                for value in plain_values(frame[column]):
                    if not is_absent(value):
                        yield from map(str, value if isinstance(value, tuple) else (value,))
        yield from season.sources
        yield from season.evidence_files
        season = season.previous


def test_a_card_holds_no_word_of_any_other_record(result: Result) -> None:
    """Neither page, code, file inside nor description names another lot, tree, bag, buyer, person or file."""
    words = {word for word in words_of(result) if not word.isdecimal()} - ORDINARY
    assert {"AK-26-4", "U-101", "B26-001", "Bracken Ford Plant Diagnostics", "KV"} <= words
    for lot in result.lots:
        pdf = set_card(facts_of(result, lot))
        with pikepdf.open(io.BytesIO(pdf)) as document:
            inside = [one.get_file().read_bytes().decode() for one in document.attachments.values()]
            told = "\n".join([*inside, str(document.docinfo), document.Root.Metadata.read_bytes().decode()])
        told += re.sub(r"\s+", " ", text_of(pdf))
        own = {
            lot,
            result.season.details.operation.name,
            *(value for _, value in facts_of(result, lot)["label"]),
        }
        leaked = {word for word in words - own if re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", told)}
        assert set() == leaked, lot


def test_the_facts_keep_to_their_schema(result: Result) -> None:
    """What lies inside every card is what `schemas/output/lot_card.json` describes, as JSON gives it back."""
    schema = json.loads((schemas_dir() / "output" / "lot_card.json").read_text(encoding="utf-8"))
    form = jsonschema_rs.Draft202012Validator(schema)
    for lot in result.lots:
        facts = facts_of(result, lot)
        assert [] == [error.message for error in form.iter_errors(facts)]
        assert json.loads(json.dumps(facts)) == facts


def test_grams_are_those_of_the_examination(result: Result) -> None:
    """The four standings add up to the lot's weight, and the worst is the card's."""
    for name, lot in result.lots.items():
        facts = facts_of(result, name)
        grams = [facts[f"{word}_mg"] for word in ("traced", "unproven", "rejected", "unaccounted")]
        assert lot.weight_mg == facts["weight_mg"] == sum(grams)
        assert lot.standing == facts["standing"]


def test_a_lot_that_is_not_traced_says_what_stands_against_it(result: Result) -> None:
    """Each rule that keeps grams from being traced is named once with how often, advice never."""
    facts = facts_of(result, "RC-26-2")
    heavy = [gap.rule for gap in result.gaps_of_lot("RC-26-2") if gap.weight != "advice"]
    assert sorted(set(heavy)) == sorted(one["rule"] for one in facts["findings"])
    assert len(heavy) == sum(one["count"] for one in facts["findings"])
    assert [] == facts_of(result, "AK-26-1")["findings"]


def test_parents_are_counted(result: Result) -> None:
    """How many trees stand behind the lot, and how many of them their results clear."""
    assert (12, 12) == tuple(facts_of(result, "AK-26-1")["parents"][name] for name in ("cleared", "trees"))
    told = facts_of(result, "RC-26-2")["parents"]
    # One of its parents rests on a result of which no letter is known.
    assert (10, 1, 11) == tuple(told[name] for name in ("cleared", "doubted", "trees"))
    assert (7, 8) == tuple(facts_of(result, "AK-26-4")["parents"][name] for name in ("cleared", "trees"))


def test_an_unknown_lot_is_refused(result: Result) -> None:
    """The message names the lots that there are."""
    with pytest.raises(CardError, match="no record bears the lot number ZZ-1; the season's lots are AK-26-1"):
        facts_of(result, "ZZ-1")


def test_the_digest_is_of_the_lot_alone(result: Result) -> None:
    """Paper, maker and signature change nothing about it; a gram does."""
    facts = facts_of(result, "AK-26-1")
    same = {**facts, "page": "Letter", "signature": {"value": "x", "certificate": "y"}, "made_by": {}}
    assert digest_facts(facts) == digest_facts(same)
    assert digest_facts(facts) != digest_facts({**facts, "traced_mg": facts["traced_mg"] + 1})
