"""Leaf samples: that each was taken, tested and reported in a way that lets its result count."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

import numpy as np

from certgen.lineage import Node
from certgen.records.columns import group_rows, is_in, repeats
from certgen.records.joining.custody import NOT_IN_ORDER
from certgen.rules.clauses import EXCLUDED, RECORDS
from certgen.rules.findings import Finding, Weight
from certgen.rules.ranges import compare, days_between, outside
from certgen.rules.registry import rule
from certgen.rules.samples.soundness import has_letter, is_own_bench
from certgen.rules.wording import count, day, join, name

if TYPE_CHECKING:
    from collections.abc import Iterator

    from certgen.records.columns import Array
    from certgen.rules.case import Case
    from certgen.rules.ranges import Figure

_TRACEABLE = (*RECORDS, *EXCLUDED)


def _are_doubtful(case: Case, trees: Array) -> Array:
    """Which trees have no result that counts."""
    doubtful: Array = case.joined("trees").look_up("tree", trees, "verdict") == "inconclusive"
    return doubtful


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
    samples = case.joined("samples")
    planted = case.joined("trees").look_up("tree", samples["tree"], "planted")
    older = samples["collected"] < planted
    if not older.any():
        return
    samples = samples.adding(planted=planted)
    good = set(samples["tree"][(samples["outcome"] == "negative") & ~older & samples.known("planted")])
    for _, row, sample, tree, collected, day_planted, outcome in samples.rows(
        "row", "sample", "tree", "collected", "planted", "outcome", where=older & samples.known("result")
    ):
        # Where a later sample clears the tree, no lot rests on this one.
        weight: Weight | None = None if outcome == "negative" and tree not in good else "advice"
        yield Finding(
            "screening",
            sample,
            row,
            ("collected",),
            f"Sample {sample} was cut on {day(collected)}, and tree {tree}, for which it is entered, was "
            f"planted only on {day(day_planted)}.",
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
    screening = case.columns("screening")
    shown = has_letter(screening)
    bare = screening.known("result") & (screening.absent("laboratory") | ~shown)
    for row, sample, laboratory, result in screening.rows("sample", "laboratory", "result", where=bare):
        asked = (("the laboratory", laboratory), ("a report's number or the letter", shown[row]))
        missing = [part for part, there in asked if not there]
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
    screening = case.columns("screening")
    chosen = is_in(screening["condition"], NOT_IN_ORDER) & (screening["result"] == "negative")
    for row, sample, condition in screening.rows("sample", "condition", where=chosen):
        told = "with its seal broken" if condition == "seal broken" else "damaged"
        yield Finding(
            "screening",
            sample,
            row,
            ("condition",),
            f"Sample {sample} reached the laboratory {told}.",
            # Another sample, which came in order, clears the same trees.
            weight=None if row in case.needed_samples else "advice",
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
    screening = case.columns("screening")
    bare = screening.known("result") & (screening.absent("collected") | screening.absent("method"))
    for row, sample, collected, method in screening.rows("sample", "collected", "method", where=bare):
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
    samples = case.joined("samples")
    large = (samples["doubt"] == "pool") & (samples["result"] == "negative")
    for row, pool in sorted(group_rows(samples["row"], large).items()):
        sample, method, leaves = (samples[column][pool[0]] for column in ("sample", "method", "leaves"))
        most = case.practice(f"pool_leaves_{method}")
        of = samples["tree"][pool]
        trees = of[_are_doubtful(case, of)].tolist()
        yield Finding(
            "screening",
            sample,
            row,
            ("trees",),
            f"Sample {sample} is a pool of {count(int(leaves), 'leaf')}, where practice is "
            f"{most.text() if most is not None else 'less'} for this method.",
            weight=None if trees else "advice",
            reaches=tuple(Node("trees", tree) for tree in trees),
            clauses=(*_TRACEABLE, f"practice:pool_leaves_{method}"),
            supply=f"a result of its own for {name('trees', of.tolist())}",
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
    samples = case.joined("samples")
    for row, pool in sorted(group_rows(samples["row"], samples["doubt"] == "carrier").items()):
        sample, trees = samples["sample"][pool[0]], samples["tree"][pool]
        yield Finding(
            "screening",
            sample,
            row,
            ("result",),
            f"The pooled sample {sample} is entered as negative, and holds a tree that tested positive by "
            "itself.",
            reaches=tuple(Node("trees", tree) for tree in trees[_are_doubtful(case, trees)].tolist()),
            supply=f"a result of its own for {name('trees', trees.tolist())}",
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
    screening = case.columns("screening")
    told: dict[int, list[tuple[str, str]]] = {}
    for field, values, practice, said in _figures(case):
        if practice is not None:
            odd = np.flatnonzero(outside(values, practice))
            for row, value in zip(odd.tolist(), values[odd].tolist(), strict=True):
                told.setdefault(row, []).append((field, compare(said.format(value), practice, value)))
    spoilt = _spoilt(case) if told else {}
    for row in sorted(told):
        sample = screening["sample"][row]
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


def _figures(case: Case) -> tuple[Figure, ...]:
    """What is measured of samples, row for row."""
    screening = case.columns("screening")
    cut, hours = screening["collected"], screening["incubation_s"] / 3600
    sent, told = days_between(cut, screening["submitted"]), days_between(cut, screening["reported"])
    figures = (
        ("petiole_mm", "petiole", screening["petiole_mm"], "the leaf stalk is {:g} mm long"),
        ("incubation_h", "incubation", hours, "it stood {:g} hours in the stain"),
        ("incubation_c", "temperature", screening["temperature_c"], "it stood at {:.3g} °C"),
        ("days_sample_to_assay", "submitted", sent, "it was handed in {:g} days after it was cut"),
        ("days_sample_to_report", "reported", told, "its result came {:g} days after it was cut"),
    )
    return tuple((field, values, case.practice(key), said) for key, field, values, said in figures)


def _spoilt(case: Case) -> dict[int, tuple[Node, ...]]:
    """Samples whose stain proves nothing, with their trees that have nothing better."""
    samples = case.joined("samples")
    wrong = (samples["doubt"] == "protocol") & _are_doubtful(case, samples["tree"])
    found: dict[int, tuple[Node, ...]] = {}
    for _, row, tree in samples.rows("row", "tree", where=wrong):
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
    samples = case.joined("samples")
    void = is_in(samples["controls"], ("failed", "not run"))
    void &= is_in(samples["result"], ("negative", "positive")) & ~repeats(samples["row"])
    if not void.any():
        return
    # A tree that has nothing better is told as a parent without a result that counts.
    open_ = set(samples["row"][_are_doubtful(case, samples["tree"])].tolist())
    for _, row, sample, result, controls in samples.rows("row", "sample", "result", "controls", where=void):
        if row in open_:
            continue
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
    chosen = list(_list_unwritten(case))
    sizes = Counter(one[3:] for one in chosen)
    for row, sample, report, run, by_own, by_silent in chosen:
        needed = by_own and row in case.needed_samples
        yield Finding(
            "screening",
            sample,
            row,
            ("controls",) if by_silent else ("incubation",),
            _say_unwritten(sample, report, sizes[run, by_own, by_silent] - 1, by_own, by_silent),
            weight=None if needed else "advice",
            cause=(run, by_own, by_silent, row in case.needed_samples),
            supply=f"{_LACKS[by_silent]} of {f'report {report}' if report else f'sample {sample}'}",
        )


def _list_unwritten(case: Case) -> Iterator[tuple[int, str, str | None, str, bool, bool]]:
    """Samples with something unwritten: row, number, report, run, whether it is of the own bench, and whether
    it is the controls."""
    screening, methods = case.columns("screening"), case.profile.methods.items()
    silent = screening.absent("controls") & is_in(screening["result"], ("negative", "positive"))
    silent &= is_in(screening["method"], [key for key, method in methods if method.controls])
    # Where nobody measures how long it stands, it is no stain.
    stains = [key for key, method in methods if not method.needs_targets]
    unmeasured = screening.absent("incubation") & screening.known("result")
    unmeasured &= is_in(screening["method"], stains)
    if not (silent | unmeasured).any():
        return
    own: Array = is_own_bench(case, screening["laboratory"])
    for row, sample, report, by_own, by_silent in screening.adding(own=own, silent=silent).rows(
        "sample", "report", "own", "silent", where=silent | (own & unmeasured)
    ):
        yield row, sample, report, sample if report is None else report, by_own, by_silent


#: What is not written down, by whether it is the controls.
_LACKS: Final = {True: "the controls", False: "the hours in the stain"}


def _say_unwritten(sample: str, report: str | None, others: int, by_own: bool, by_silent: bool) -> str:
    more = f" and {others} more of report {report}" if others else ""
    where = ", tested on the own bench" if by_own else ""
    return f"Nothing is written about {_LACKS[by_silent]} of sample {sample}{more}{where}."
