"""Leaf samples: that each was taken, tested and reported in a way that lets its result count."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.lineage import Node
from certgen.rules.clauses import EXCLUDED, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.ranges import compare, days_between, outside
from certgen.rules.registry import rule
from certgen.rules.selection import look_up, plain, rows
from certgen.rules.wording import day, join

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pandas import DataFrame, Series

    from certgen.rules.case import Case

_TRACEABLE = (*RECORDS, *EXCLUDED)


def _in_time(case: Case) -> DataFrame:
    """Samples with the day on which their tree was planted, and whether it was there when they were taken."""
    samples = case.samples
    planted = look_up(samples["tree"], case.tree_of["planted"])
    return samples.assign(planted=planted, older=samples["collected"] < planted)


@rule(
    weight="unproven",
    clauses=_TRACEABLE,
    remedy="Correct the day of the sample or of the planting. If the sample is of a tree that stood there "
    "before, enter it under that tree's number and sample this one.",
    after=("date-in-future",),
)
def screening_before_planting(case: Case) -> Iterator[Finding]:
    """A sample is older than the tree that now bears the number, so it was cut from another tree.

    Numbers are used again when a tree is replaced. A clean result of the tree before says nothing of the
    one that stands there now.
    """
    samples = _in_time(case)
    good = set(
        samples["tree"][(samples["outcome"] == "negative") & ~samples["older"] & samples["planted"].notna()]
    )
    chosen = samples[samples["older"] & samples["result"].notna()]
    for _, row, sample, tree, collected, planted, outcome in rows(
        chosen, "row", "sample", "tree", "collected", "planted", "outcome"
    ):
        # Where a later sample clears the tree, no lot rests on this one.
        weight: Weight | None = None if outcome == "negative" and tree not in good else "advice"
        yield Finding(
            "screening",
            sample,
            row,
            ("collected",),
            f"Sample {sample} was cut on {day(collected)}, and tree {tree}, for which it is entered, was "
            f"planted only on {day(planted)}.",
            weight=weight,
            cause=tree,
            reaches=(Node("trees", tree),),
            supply=f"a screening result for tree {tree} since it was planted",
        )


@rule(
    weight="unproven",
    clauses=(*_TRACEABLE, "eu:2021/279 1"),
    remedy="Write who tested it under `laboratory` and the number of the letter under `report`, or name the "
    "letter under `evidence`. For a test on your own bench a photo of the plate will do.",
)
def report_missing(case: Case) -> Iterator[Finding]:
    """A result is entered, and nothing shows who found it or where it is written.

    An inspector wants to hold the letter next to the record. A result that was told over the telephone
    is a memory, and memories are not audited.
    """
    frame = case.season.table("screening")
    shown = frame["report"].notna() | (frame["evidence"].str.len() > 0)
    bare = frame["laboratory"].isna() | ~shown
    samples = case.samples
    sound = set(samples["tree"][(samples["outcome"] == "negative") & ~look_up(samples["row"], bare)])
    rests = samples[~samples["tree"].isin(sound) & samples["result"].notna()]
    chosen = frame.assign(shown=shown)[bare & frame["result"].notna()]
    needed = set(rests["row"].tolist())
    for row, sample, laboratory, written, result in rows(chosen, "sample", "laboratory", "shown", "result"):
        missing = [
            part
            for part, there in (("the laboratory", laboratory), ("a report's number or the letter", written))
            if not there
        ]
        yield Finding(
            "screening",
            sample,
            row,
            ("report",) if laboratory else ("laboratory",),
            f"The result of sample {sample} ({result}) is entered without {join(missing)}.",
            # Another sample, with its letter, clears the same trees.
            weight=None if row in needed else "advice",
            supply=f"the report on sample {sample}",
        )


@rule(
    weight="advice",
    clauses=(
        "practice:petiole_mm",
        "practice:incubation_h",
        "practice:incubation_c",
        "practice:days_sample_to_assay",
    ),
    remedy="If a figure was misread, correct it. Otherwise sample the way the laboratory asks next time; a "
    "result that came of odd tissue or treatment is worth repeating.",
)
def sample_out_of_range(case: Case) -> Iterator[Finding]:
    """A leaf was older, or treated otherwise, than is usual for its test.

    Tests find less in old, heated or long-stored leaves, and a stain that stands too short or too cold
    may stay pale. A negative is worth less then.
    """
    frame = case.season.table("screening")
    hours = frame["incubation_s"] / 3600
    figures: tuple[tuple[str, str, Series[Any], str], ...] = (
        ("petiole_mm", "petiole", frame["petiole_mm"], "the leaf stalk is {:g} mm long"),
        ("incubation_h", "incubation", hours, "it stood {:g} hours in the stain"),
        ("incubation_c", "temperature", frame["temperature_c"], "it stood at {:.3g} °C"),
        (
            "days_sample_to_assay",
            "submitted",
            days_between(frame["collected"], frame["submitted"]),
            "it was handed in {:g} days after it was cut",
        ),
        (
            "days_sample_to_report",
            "reported",
            days_between(frame["collected"], frame["reported"]),
            "its result came {:g} days after it was cut",
        ),
    )
    told: dict[int, list[tuple[str, str]]] = {}
    for key, field, values, said in figures:
        practice = case.practice(key)
        odd = values[outside(values, practice)]
        if practice is not None:
            for row, value in zip(odd.index.tolist(), plain(odd), strict=True):
                told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
    for row, sample in rows(frame.loc[sorted(told)], "sample"):
        yield Finding(
            "screening",
            sample,
            row,
            (told[row][0][0],),
            f"Of sample {sample}, {join(words for _, words in told[row])}.",
        )


@rule(
    weight="advice",
    clauses=EXCLUDED,
    remedy="Write 'inconclusive' under `result`: a run whose controls failed says nothing either way.",
)
def screening_void_controls(case: Case) -> Iterator[Finding]:
    """A result is entered from a run whose controls failed or weren't run.

    Controls show that the test could have found something, and that it finds nothing where nothing is.
    Without them a result is void. Another sample speaks for the tree here; this one shouldn't.
    """
    samples = case.samples
    void = samples["result"].isin(["negative", "positive"]) & samples["controls"].isin(["failed", "not run"])
    # A tree that has nothing better is told as a parent without a result that counts.
    doubtful = look_up(samples["tree"], case.verdicts["verdict"]) == "inconclusive"
    open_ = set(samples["row"][doubtful].tolist())
    chosen = samples[void & ~samples["row"].isin(open_) & ~samples["row"].duplicated()]
    for _, row, sample, result, controls in rows(chosen, "row", "sample", "result", "controls"):
        failed = "failed" if controls == "failed" else "weren't run"
        yield Finding(
            "screening",
            sample,
            row,
            ("controls",),
            f"Sample {sample} is entered as {result}, but the controls of its run {failed}.",
            weight="advice",
        )


@rule(
    weight="advice",
    clauses=_TRACEABLE,
    remedy="Ask the laboratory whether its controls came out as they should, and write it under `controls`.",
    after=("report-missing",),
)
def controls_unwritten(case: Case) -> Iterator[Finding]:
    """Nothing says whether the controls of a test came out as they should.

    An inspector who knows the test asks for the controls first. The result is taken as it stands, on the
    laboratory's word.
    """
    frame = case.season.table("screening")
    asking = [key for key, method in case.profile.methods.items() if method.controls]
    silent = (
        frame["result"].isin(["negative", "positive"])
        & frame["controls"].isna()
        & frame["method"].isin(asking)
    )
    chosen = frame[silent]
    chosen = chosen.assign(run=chosen["report"].fillna(chosen["sample"]))
    sizes = chosen["run"].value_counts()
    for row, sample, run, report in rows(chosen, "sample", "run", "report"):
        others = int(sizes[run]) - 1
        more = f" and {others} more of report {report}" if others else ""
        yield Finding(
            "screening",
            sample,
            row,
            ("controls",),
            f"Nothing is written about the controls of sample {sample}{more}.",
            weight="advice",
            cause=run,
            supply=f"the controls of {f'report {report}' if report else f'sample {sample}'}",
        )
