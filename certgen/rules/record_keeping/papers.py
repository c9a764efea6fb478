"""Every table: days within the season, evidence that is there, records that are whole, seasons that "
"are kept."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from certgen.records import Place
from certgen.records.supplied import list_packets
from certgen.records.tables import load_tables
from certgen.rules.findings import Finding, Weight
from certgen.rules.registry import rule
from certgen.rules.wording import capital, count, day, join, name, noun

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from certgen.rules.case import Case

#: Work of the season itself. Land, plantings, inputs, screening and tests may be older and still count.
_SEASONAL: Final = (
    ("bagging", "covered"),
    ("harvests", "date"),
    ("batches", "date"),
    ("cleaning", "date"),
    ("lots", "packed"),
    ("movements", "date"),
    ("incidents", "date"),
)


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Correct the day, or file the record with the season that it belongs to. If the season is longer "
    "than its first and last day say, correct those.",
    after=("date-in-future", "date-out-of-order", "sold-before-packed"),
)
def date_outside_season(case: Case) -> Iterator[Finding]:
    """A record bears a day outside the season in whose folder it stands.

    Mostly the year is a slip of the pen. Work that runs over the turn of the year may be filed with either
    season, which is advice; a record from further off is missing where an inspector looks for it.
    """
    year = np.timedelta64(366, "D")
    for table, column in _SEASONAL:
        columns, key = case.columns(table), load_tables()[table].key
        for number, stretch in enumerate(case.season.stretches):
            details, part = stretch.details, case.season.rows_of(table, number)
            first, last = np.datetime64(details.start), np.datetime64(details.end)
            days = columns[column][part]
            outside = (days < first) | (days > last)
            if not outside.any():
                continue
            # A flower covered in December is picked in May: what belongs to the year may be filed with
            # either.
            near = (days >= first - year) & (days <= last + year)
            # What an earlier season holds of this one was looked at then; a slip of years was not mended.
            told = np.flatnonzero(outside & ~near if number else outside)
            rows = told + part.start
            identifiers, dates = columns.values(key, rows), columns.values(column, rows)
            for row, close, identifier, when in zip(
                rows.tolist(), near[told].tolist(), identifiers, dates, strict=True
            ):
                yield Finding(
                    table,
                    identifier,
                    row,
                    (column,),
                    f"{capital(noun(table))} {identifier} is of {day(when)}; the season runs from "
                    f"{day(details.start)} to {day(details.end)}.",
                    weight="advice" if close else None,
                    supply=f"the right day for {noun(table)} {identifier}",
                )


def _named_files(case: Case) -> Iterator[tuple[str, str, int | None, tuple[str | int, ...], str]]:
    """Every file that a record names as evidence: table, identifier, row, steps to the field, file."""
    for table, key, column in _papers():
        elements = case.season.elements(table, column)
        identifiers = case.columns(table)[key]
        for _, row, position, file in elements.rows("row", "position", "value"):
            yield table, identifiers[row], row, (column, position), file
    yield from list_packets(case.season)
    details = case.season.details
    for steps, named in _season_papers(details.raw):
        for position, file in enumerate((named,) if isinstance(named, str) else named):
            yield "season", details.label, None, (*steps, position), str(file)


@cache
def _papers() -> tuple[tuple[str, str, str], ...]:
    """The columns that name files as evidence: table, its key, column."""
    return tuple(
        (table.name, table.key or "rule", column.name)
        for table in load_tables().values()
        for column in table.columns
        if column.kind == "evidence"
    )


def _season_papers(raw: Mapping[str, Any]) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """What the season itself names as papers: the steps to the field, and a file or a list of files."""
    yield ("evidence",), raw.get("evidence") or ()
    yield ("map", "drawn"), (raw.get("map") or {}).get("drawn") or ()
    for number, section in enumerate(raw.get("plan") or ()):
        yield ("plan", number, "paper"), section.get("paper") or ()


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.103(c)"),
    remedy="Put the file into the season's `evidence` folder under that name, or correct the name. Capital "
    "letters count.",
)
def evidence_absent(case: Case) -> Iterator[Finding]:
    """A record names a file that isn't there, or that holds nothing.

    What a record rests on must lie beside it when the inspector asks, and on the day the report is made.
    """
    there = set(case.season.evidence_files)
    empty = set(case.season.empty_evidence)
    for table, identifier, row, field, file in _named_files(case):
        if file not in there or file in empty:
            what = "The season" if table == "season" else f"{capital(noun(table))} {identifier}"
            lacks = "and nothing is in it" if file in empty else "and it is not in the folder `evidence`"
            yield Finding(
                table,
                identifier,
                row,
                field,
                f"{what} names the file {file}, {lacks}.",
                cause=file,
                supply=f"the file {file}",
            )


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Name the file at the record that it belongs to, under `evidence`, or put it elsewhere.",
)
def evidence_unnamed(case: Case) -> Iterator[Finding]:
    """A file lies in the evidence folder, and no record names it.

    A letter that belongs to nothing proves nothing; and perhaps a record is missing that should name it.
    """
    named = {file for *_, file in _named_files(case)}
    for file in case.season.evidence_files:
        if file not in named and not file.startswith("../"):
            yield Finding(
                "evidence",
                file,
                None,
                (),
                f"No record names the file {file}.",
                reaches=(),
                place=Place(f"evidence/{file}", ()),
            )


#: What growers forget though the schema lets it pass: table, field, in words, and the demand that makes it
#: more than advice ("" for what no lot's claim rests on, "always" for what the balance can't do without).
_FORGOTTEN: Final = (
    ("harvests", "weight", "the weight", "harvest_amounts"),
    ("batches", "wet_weight", "the wet weight", ""),
    ("batches", "dry_weight", "the dry weight", "always"),
    ("lots", "containers", "the number of containers", ""),
    ("lots", "storage", "the storage", ""),
)
_OPERATION: Final = (
    ("certificate", "the certificate's number"),
    ("certifier", "the certifier"),
)


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(a)", "us-nop:205.103(b)(2)", "eu:2018/848 34(5)", "eu:2018/848 annex II 1.12"),
    remedy="Look it up in the field book, on the bag or on the invoice, and enter it.",
)
def record_incomplete(case: Case) -> Iterator[Finding]:
    """Records lack something that was known on the day and that an inspector will ask for.

    Most of it is advice. The dry weight of a run is not: without it nobody can tell whether more seed was
    packed than there was. The weight of fruit isn't either, where a standard asks for the amounts picked.
    """
    for table, column, told, demand in _FORGOTTEN:
        columns, key = case.columns(table), load_tables()[table].key
        if not len(columns):
            continue
        # What claims nothing is asked nothing.
        lacking = columns.absent(column) & (columns["status"] != "conventional")
        identifiers = columns[key][lacking].tolist()
        weight: Weight | None = None if demand == "always" or (demand and case.demand(demand)) else "advice"
        what = name(table, identifiers)
        for row, identifier in columns.rows(key, where=lacking):
            yield Finding(
                table,
                identifier,
                row,
                (column,),
                f"{capital(told)} of {what} is not written down.",
                weight=weight,
                cause=(table, column),
                supply=f"{told} of {what}",
            )
    details = case.season.details
    empty = [(field, told) for field, told in _OPERATION if not getattr(details.operation, field)]
    if empty:
        yield Finding(
            "season",
            details.label,
            None,
            ("operation",),
            f"The season doesn't name {join(told for _, told in empty)} of the operation.",
            weight="advice",
            reaches=(),
            remedy="Copy it from the organic certificate into `operation`.",
        )


@rule(
    weight="advice",
    clauses=(
        "us-nop:205.103(a)",
        "us-nop:205.103(b)(4)",
        "canada:4.4",
        "seed-law:7 USC 1572",
    ),
    remedy="Name the folder of the season before under `previous:` in the `season` mapping. Where no records "
    "were kept in this form, keep the papers at hand, and write down where they lie.",
)
def records_missing_past_seasons(case: Case) -> Iterator[Finding]:
    """Records of an earlier season that must still be kept are named by none of those that are here.

    Records are kept for years after they were made, and a line can only be followed as far as they reach.
    A year may be missing between two seasons, or the oldest of them goes on from a lot of one before it.
    """
    years = _record_years(case)
    if years is None:
        return
    since = _years_before(case.on, years)
    chain = [stretch.details for stretch in case.season.stretches]
    for later, earlier in pairwise(chain):
        if later.start - earlier.end > timedelta(days=31) and later.start > since:
            yield _unnamed_season(
                case,
                f"Between season {earlier.label}, which ended on {day(earlier.end)}, and season "
                f"{later.label}, which began on {day(later.start)}, no season is named. Records are kept for "
                f"{count(years, 'year')}.",
            )
    oldest = chain[-1]
    # Of this season's own unknown lots the rule about unknown numbers tells.
    if len(chain) > 1 and oldest.start > since and (lots := _lots_from_before(case)):
        yield _unnamed_season(
            case,
            f"Season {oldest.label} goes on from {name('lots', lots)}, and the season before it "
            f"is not named. Records are kept for {count(years, 'year')}.",
        )


def _record_years(case: Case) -> int | None:
    """For how many years some standard wants records kept; None if none asks."""
    asked = [demand.value for key in ("record_years", "seed_record_years") for _, demand in case.demand(key)]
    return max((value for value in asked if isinstance(value, int)), default=None)


def _unnamed_season(case: Case, message: str) -> Finding:
    return Finding("season", case.season.details.label, None, ("previous",), message, reaches=())


def _lots_from_before(case: Case) -> list[str]:
    """The lots that the oldest season here goes on from, and of which none of the seasons has a record."""
    season, last = case.season, len(case.season.stretches) - 1
    moves, plantings = season.rows_of("movements", last), season.rows_of("plantings", last)
    kind, moved = (case.columns("movements")[name][moves] for name in ("kind", "lot"))
    known = case.columns("lots").first("lot")
    named = [*moved[kind == "opening stock"].tolist(), *case.columns("plantings")["origin.lot"][plantings]]
    return [lot for lot in dict.fromkeys(named) if lot is not None and lot not in known]


def _years_before(when: date, years: int) -> date:
    """The same day so many years before; the last of February for its 29th."""
    try:
        return when.replace(year=when.year - years)
    except ValueError:
        return when.replace(year=when.year - years, day=28)


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)", "eu:2018/848 39(1)"),
    remedy="Name the folder of this operation's own season before under `previous`. Seed and trees "
    "taken over from another operation come with that operation's papers.",
)
def season_before_of_another(case: Case) -> Iterator[Finding]:
    """The season before is another operation's, so its records show nothing of this one's seed.

    Two farms share no tree and no ledger. What came from there was bought or taken over, and has its papers.
    """
    own = case.season.details.operation
    strange: list[tuple[str, str]] = []
    for stretch in case.season.stretches[1:]:
        other = stretch.details.operation
        if not own.is_same(other):
            strange.append((stretch.label, f"{other.name} ({other.certificate or 'no certificate'})"))
    for label, whose in strange:
        # Its samples prove nothing here; a tree that others clear is none the worse for them.
        nodes = tuple(
            node
            for node in case.lineage.nodes
            if node.table != "screening" and case.lineage.season_of(node) == label
        )
        yield Finding(
            "season",
            case.season.details.label,
            None,
            ("previous",),
            f"Season {label} belongs to {whose}, and this one to {own.name} "
            f"({own.certificate or 'no certificate'}).",
            reaches=nodes,
            supply=f"the season before of {own.name}",
        )


@rule(
    weight="advice",
    clauses=("us-nop:205.103(b)(2)", "us-nop:205.103(c)"),
    remedy="Put a copy or a photo of each letter into `evidence` and name it at the sample or at the "
    "letter's record; `certgen evidence` lists them.",
)
def letter_unfiled(case: Case) -> Iterator[Finding]:
    """Results name the number of a letter, and no copy of it is filed.

    The number shows that there is a letter. An inspector wants to hold it beside the record.
    """
    samples = case.columns("screening")
    if not len(samples):
        return
    said = case.own("screening") & samples.known("result")
    bare = said & samples.known("report") & samples.absent("evidence")
    total, lacking = np.count_nonzero(said), np.count_nonzero(bare)
    letters = len(set(samples["report"][bare].tolist()))
    for row, sample in samples.rows("sample", where=bare):
        yield Finding(
            "screening",
            sample,
            row,
            ("report",),
            f"{lacking} of {total} results name a letter ({letters} in all) of which no copy is filed.",
            weight="advice",
            cause="letters",
        )
