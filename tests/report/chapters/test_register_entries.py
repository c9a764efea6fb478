"""Registers as entries: each record has its place, and all that was recorded stands in it or above it."""

from __future__ import annotations

from datetime import date

import pytest

from certgen.examination import examine
from certgen.records.tables import load_tables
from certgen.report.chapters.land import build_land
from certgen.report.chapters.notices import build_recalls
from certgen.report.chapters.register_entries import build_entries
from certgen.report.chapters.register_fields import identifiers_of, read_fields
from certgen.report.chapters.register_plans import PLANS
from certgen.report.chapters.registers import build_registers
from certgen.report.context import Context
from certgen.typeset.entries import Entries

COVERS = ("certgen.report.chapters.register_plans", "certgen.report.chapters.register_fields")


@pytest.fixture(scope="module")
def context(example_season) -> Context:
    """The example season."""
    return Context(examine(example_season, date(2026, 11, 25)))


def words(runs) -> str:
    """Runs as one text."""
    return "".join(run.text for run in runs)


def entry_of(register, anchor):
    """The texts of an entry and of its group's head."""
    return next(
        (words(entry.runs), words(group.head))
        for group in register.groups
        for entry in group.entries
        if anchor == entry.anchor
    )


def test_plans_name_fields_of_the_contract():
    """A field that was renamed in the schemas would never be told as planned."""
    tables = load_tables()
    unknown = [
        (table, name)
        for table, plan in PLANS.items()
        for name in (*plan.each, *plan.groups, *plan.plain, *sum(plan.joined, ()), *plan.expected)
        if name not in {column.name for column in tables[table].columns}
    ]

    assert [] == unknown
    # The name of the first would stand before the words of the others.
    assert all(joined[0] in plan.plain for plan in PLANS.values() for joined in plan.joined)


def test_every_value_stands_at_its_record_or_above_it(context):
    """Of every field of every record the words are in its entry, in its group's head or said for all."""
    told = 0
    for name, table in context.tables.items():
        register = build_entries(context, name)
        identifiers = identifiers_of(context, table)
        expected = [one.words for one in PLANS[name].expected.values()]
        fields = read_fields(context, table, identifiers, gathered=True)
        entries = [
            (entry, f"{words(entry.runs)}\n{words(group.head)}\n{words(register.common)}")
            for group in register.groups
            for entry in group.entries
        ]
        assert len(identifiers) == len(entries)
        if PLANS[name].groups:
            continue
        for row, (_, text) in enumerate(entries):
            for field in fields.values():
                if field.values[row] is None:
                    continue
                written = "".join(piece for piece, _ in field.write(field.values[row]))
                assert written in text or any(one in text for one in expected)
                told += 1
    assert told > 1_000


def test_the_packet_holds_every_record_once(context):
    """Records of land and recalls stand in their chapters, all others in the registers, under their"
    " anchors."""
    sections = [
        section
        for chapter in (build_land(context, 480), *build_recalls(context))
        for section in chapter.sections
    ]
    chapter = [
        register
        for section in sections
        for part in section.parts
        if isinstance(part, Entries)
        for register in part.registers
    ]
    registers = build_registers(context, "full")
    anchors = [anchor for register in (*chapter, *registers) for anchor in register.anchors]

    assert len(anchors) == len(set(anchors))
    assert sum(len(context.season.table(name)) for name in context.tables) == len(anchors)
    assert {"bagging/B26-064", "row/lots/AK-26-1", "inputs/I26-05", "visits/V26-1"} <= set(anchors)


def test_a_tag_like_the_log_is_said_once(context):
    """The bag whose tag names another tree says so, no other does, and all of it is said above."""
    register = build_entries(context, "bagging")
    entry, head = entry_of(register, "bagging/B26-125")

    assert "tree on the tag T-301" in entry
    assert "tree on the tag as in the log" in words(register.common)
    assert head.startswith("covered 2026-03-19; ")
    assert "B26-124 T-306" == entry_of(register, "bagging/B26-124")[0]


def test_samples_stand_below_their_letter(context):
    """The letter's days and paper once, then a tree and its leaf stalk each, and results that differ."""
    register = build_entries(context, "screening")
    entry, head = entry_of(register, "screening/S26-001")

    assert "S26-001 U-101, 29 mm" == entry
    assert head.startswith("report number BF-26-0031; negative; ")
    assert "S26-015 U-207, 31 mm; positive" == entry_of(register, "screening/S26-015")[0]


def test_names_lead_on_and_papers_open(context):
    """A bag leads to its picking, its tree to the tree, evidence to the attached file."""
    register = build_entries(context, "bagging")
    (entry,) = (
        entry for group in register.groups for entry in group.entries if entry.anchor == "bagging/B26-001"
    )
    leads = {run.text: run.href for run in entry.runs if run.href}

    assert "harvests/H26-01" == leads["B26-001"]
    assert "trees/U-101" == leads["U-101"]
    assert "evidence/tags/b26-001.png" == leads["tags/b26-001.png"]


def test_a_gap_at_a_record_leads_to_its_card(context):
    """The number stands in the entry, before what else it says."""
    entry, _ = entry_of(build_entries(context, "bagging"), "bagging/B26-064")

    assert entry.startswith("B26-064 T-203; gap ")
