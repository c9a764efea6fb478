"""Leaf samples: that each was taken, tested and reported in a way that lets its result count."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from certgen.lineage import Node
from certgen.records.joining.custody import NOT_IN_ORDER
from certgen.records.rows import indexed_rows, look_up, plain_rows, plain_values
from certgen.rules.clauses import EXCLUDED, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.ranges import compare, days_between, outside
from certgen.rules.registry import rule
from certgen.rules.samples.soundness import has_letter, is_own_bench
from certgen.rules.wording import count, day, join, name

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
    for row, sample, tree, collected, planted, outcome in plain_rows(
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
    shown = has_letter(frame)
    bare = frame["laboratory"].isna() | ~shown
    chosen = frame.assign(shown=shown)[bare & frame["result"].notna()]
    for row, sample, laboratory, written, result in indexed_rows(
        chosen, "sample", "laboratory", "shown", "result"
    ):
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
            weight=None if row in case.needed_samples else "advice",
            supply=f"the report on sample {sample}",
        )


@rule(
    weight="unproven",
    clauses=(*_TRACEABLE, "eu:2021/279 1"),
    remedy="Sample the tree again and send the leaves sealed, with a sheet that the laboratory signs. If the "
    "letter says that the samples were in order, correct `condition`.",
)
def sample_seal_broken(case: Case) -> Iterator[Finding]:
    """Leaves reached the laboratory with a broken seal or damaged, so whose they were is anybody's word.

    Between the tree and the bench a leaf passes through several hands. The seal is what shows that nobody
    exchanged it; a rotten leaf can't show its mark.
    """
    frame = case.season.table("screening")
    chosen = frame[frame["condition"].isin(NOT_IN_ORDER) & (frame["result"] == "negative")]
    needed = case.needed_samples
    for row, sample, condition in indexed_rows(chosen, "sample", "condition"):
        told = "with its seal broken" if condition == "seal broken" else "damaged"
        yield Finding(
            "screening",
            sample,
            row,
            ("condition",),
            f"Sample {sample} reached the laboratory {told}.",
            # Another sample, which came in order, clears the same trees.
            weight=None if row in needed else "advice",
            supply=f"a sample of the trees of {sample} that arrived in order",
        )


@rule(
    weight="unproven",
    clauses=("us-nop:205.103(b)(2)",),
    remedy="Write under `collected` the day on which the leaf was cut, or name the sample in the round on "
    "which it was.",
)
def sample_undated(case: Case) -> Iterator[Finding]:
    """Nothing says on which day a leaf was cut, or how it was tested.

    A result speaks of the day of its leaf: of no flower covered before it, and of no tree planted after.
    Without a method nobody knows what it could have seen.
    """
    frame = case.season.table("screening")
    bare = frame[frame["result"].notna() & (frame["collected"].isna() | frame["method"].isna())]
    for row, sample, collected, method in indexed_rows(bare, "sample", "collected", "method"):
        lacks = [
            word
            for word, there in (("when it was cut", collected), ("how it was tested", method))
            if not there
        ]
        yield Finding(
            "screening",
            sample,
            row,
            ("collected",) if not collected else ("method",),
            f"Nothing says of sample {sample} {join(lacks)}.",
            weight=None if row in case.needed_samples else "advice",
            supply=f"the day and method of sample {sample}",
        )


@rule(
    weight="unproven",
    clauses=(
        *_TRACEABLE,
        "practice:pool_leaves_gus",
        "practice:pool_leaves_pcr",
        "practice:pool_leaves_strip",
    ),
    remedy="Sample the trees again, singly or in pools that the method bears, and enter the results.",
)
def pool_too_large(case: Case) -> Iterator[Finding]:
    """More leaves were put into one test than its method bears, so a clean result proves nothing.

    One engineered leaf among many gives a weak sign or none. How many leaves a method bears is the crop
    profile's figure.
    """
    samples = case.samples
    large = samples[(samples["doubt"] == "pool") & (samples["result"] == "negative")]
    doubtful = set(case.verdicts.index[case.verdicts["verdict"] == "inconclusive"])
    for row, pool in large.groupby("row"):
        _, sample, method, leaves = next(indexed_rows(pool, "sample", "method", "leaves"))
        most = case.practice(f"pool_leaves_{method}")
        trees = [tree for tree in pool["tree"].tolist() if tree in doubtful]
        yield Finding(
            "screening",
            sample,
            int(str(row)),
            ("trees",),
            f"Sample {sample} is a pool of {count(int(leaves), 'leaf')}, where practice is "
            f"{most.text() if most is not None else 'less'} for this method.",
            weight=None if trees else "advice",
            reaches=tuple(Node("trees", tree) for tree in trees),
            clauses=(*_TRACEABLE, f"practice:pool_leaves_{method}"),
            supply=f"a result of its own for {name('trees', pool['tree'].tolist())}",
        )


@rule(
    weight="unproven",
    clauses=_TRACEABLE,
    remedy="Sample each tree of the pool by itself, and enter the results.",
)
def pool_conflicting(case: Case) -> Iterator[Finding]:
    """A pool says one thing and the samples of its trees say another.

    A clean pool that holds a tree known to carry missed what it was there to find; a positive pool whose
    trees are all clean by themselves found something that nobody has found since. Its other results are as
    much in doubt.
    """
    samples = case.samples
    missed = samples[samples["doubt"] == "carrier"]
    for row, pool in missed.groupby("row"):
        _, sample = next(indexed_rows(pool, "sample"))
        yield Finding(
            "screening",
            sample,
            int(str(row)),
            ("result",),
            f"The pooled sample {sample} is entered as negative, and holds a tree that tested positive by "
            "itself.",
            reaches=tuple(
                Node("trees", tree)
                for tree in pool["tree"].tolist()
                if case.verdicts["verdict"].get(tree) == "inconclusive"
            ),
            supply=f"a result of its own for {name('trees', pool['tree'].tolist())}",
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
    may stay pale. A negative is worth less then; one of a stain that stood far outside its protocol is worth
    nothing.
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
            for row, value in zip(odd.index.tolist(), plain_values(odd), strict=True):
                told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
    spoilt = _spoilt(case)
    for row, sample in indexed_rows(frame.loc[sorted(told)], "sample"):
        yield Finding(
            "screening",
            sample,
            row,
            (told[row][0][0],),
            f"Of sample {sample}, {join(words for _, words in told[row])}.",
            weight="unproven" if row in spoilt else "advice",
            reaches=spoilt.get(row, ()),
            supply=f"a result for the tree of sample {sample} by the protocol" if row in spoilt else None,
        )


def _spoilt(case: Case) -> dict[int, tuple[Node, ...]]:
    """Samples whose stain proves nothing, with their trees that have nothing better."""
    samples = case.samples
    doubtful = look_up(samples["tree"], case.verdicts["verdict"]) == "inconclusive"
    wrong = samples[(samples["doubt"] == "protocol") & doubtful]
    found: dict[int, tuple[Node, ...]] = {}
    for row, tree in plain_rows(wrong, "row", "tree"):
        found[row] = (*found.get(row, ()), Node("trees", tree))
    return found


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
    for row, sample, result, controls in plain_rows(chosen, "row", "sample", "result", "controls"):
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
    weight="unproven",
    clauses=_TRACEABLE,
    remedy="Write under `controls` whether the controls of the run came out as they should, and for a stain "
    "how long it stood under `incubation`. A laboratory answers for them itself, by its letter.",
    after=("report-missing",),
)
def controls_unwritten(case: Case) -> Iterator[Finding]:
    """Nothing says whether the controls of a test on one's own bench came out, or how long a stain stood.

    An inspector who knows the test asks for the controls first. A laboratory answers for its controls and
    its protocol with its letter; there it is advice to write down what it says of them.
    """
    frame = case.season.table("screening")
    asking = [key for key, method in case.profile.methods.items() if method.controls]
    silent = (
        frame["result"].isin(["negative", "positive"])
        & frame["controls"].isna()
        & frame["method"].isin(asking)
    )
    own = is_own_bench(case, frame["laboratory"])
    # Where nobody measures how long it stands, it is no stain.
    stains = [key for key, method in case.profile.methods.items() if not method.needs_targets]
    unmeasured = own & frame["incubation"].isna() & frame["method"].isin(stains) & frame["result"].notna()
    chosen = frame.assign(own=own, silent=silent)[silent | unmeasured]
    chosen = chosen.assign(run=chosen["report"].fillna(chosen["sample"]))
    sizes = chosen.groupby(["run", "own", "silent"]).size()
    for row, sample, run, report, by_own, by_silent in indexed_rows(
        chosen, "sample", "run", "report", "own", "silent"
    ):
        needed = by_own and row in case.needed_samples
        yield Finding(
            "screening",
            sample,
            row,
            ("controls",) if by_silent else ("incubation",),
            _say_unwritten(sample, report, int(sizes[run, by_own, by_silent]) - 1, by_own, by_silent),
            weight=None if needed else "advice",
            cause=(run, by_own, by_silent, row in case.needed_samples),
            supply=f"{_LACKS[by_silent]} of {f'report {report}' if report else f'sample {sample}'}",
        )


#: What is not written down, by whether it is the controls.
_LACKS: Final = {True: "the controls", False: "the hours in the stain"}


def _say_unwritten(sample: str, report: str | None, others: int, by_own: bool, by_silent: bool) -> str:
    more = f" and {others} more of report {report}" if others else ""
    where = ", tested on the own bench" if by_own else ""
    return f"Nothing is written about {_LACKS[by_silent]} of sample {sample}{more}{where}."
