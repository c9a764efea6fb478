"""An examined season to what the co-op keeps of it. Tables are asked in bulk and let go."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from certgen.coop.members.external_lots import ExternalLots
from certgen.coop.members.facts import (
    ERRORS_KEPT,
    GAPS_KEPT,
    MENDS_KEPT,
    NAMES_KEPT,
    GapFact,
    Grams,
    LotFact,
    MemberSummary,
    MendFact,
    MoveFact,
    PlantingFact,
    ReportFact,
    Stated,
    UseFact,
    YieldFact,
    shorten,
)
from certgen.lineage import Node
from certgen.records.rows import plain_rows, plain_values
from certgen.records.tables import load_tables
from certgen.rules import CRASHED, RULES, WEIGHTS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from certgen.examination import Result
    from certgen.lineage import LotStanding
    from certgen.rules import Gap

_PARTIES = ("sold", "transferred", "received", "returned")


def summarise(member: str, fingerprint: str, result: Result) -> MemberSummary:
    """The summary of an examined member."""
    details = result.season.details
    outside = ExternalLots(result)
    return MemberSummary(
        member=member,
        state="read",
        fingerprint=fingerprint,
        stated=Stated(
            operation=shorten(details.operation.name),
            certificate=shorten(details.operation.certificate),
            label=details.label,
            standards=details.standards,
        ),
        numbers=result.summary,
        stages=_stages(result.gaps),
        gaps=tuple(_gaps(result, outside)),
        lots=tuple(_lots(result, outside)),
        plantings=tuple(_plantings(result)),
        moves=tuple(_moves(result)),
        reports=tuple(_reports(result)),
        uses=tuple(_uses(result)),
        yields=tuple(_yields(result)),
        balance=_balance(result),
        mend=tuple(_mends(result, outside)),
        errors=tuple(shorten(error.text()) for error in result.errors[:ERRORS_KEPT]),
        error_count=len(result.errors),
        crashed=tuple(crash.rule for crash in result.crashed),
    )


def _grams(standing: LotStanding) -> Grams:
    grams = Grams(standing.traced_mg, standing.unproven_mg, standing.rejected_mg, standing.unaccounted_mg)
    return grams._replace(unsettled=int(standing.standing == "unproven" and grams.standing == "traced"))


def _clear_trees(result: Result) -> frozenset[str]:
    verdicts = result.case.verdicts
    return frozenset(verdicts.index[verdicts["verdict"] == "clear"].tolist())


def _lots(result: Result, outside: ExternalLots) -> Iterator[LotFact]:
    """Every lot of the farm, earlier seasons' too: others' trees stand on these."""
    standings = result.case.standings
    judged = standings.judge() if standings is not None else dict(result.lots)
    answered = outside.answered() if outside.gaps else judged
    clear = _clear_trees(result)
    planting_of = result.case.keyed("trees")["planting"].to_dict()
    for lot, standing in judged.items():
        parents = [node.id for node in result.lineage.seed_parents(lot)]
        plantings = dict.fromkeys(planting_of.get(tree) for tree in parents)
        yield LotFact(
            lot=lot,
            current=lot in result.lots,
            variety=shorten(standing.variety),
            own=_grams(standing),
            answered=_grams(answered[lot]),
            outside=outside.lots_behind(lot),
            parents=len(parents),
            cleared=sum(tree in clear for tree in parents),
            plantings=tuple(name for name in plantings if isinstance(name, str))[:NAMES_KEPT],
        )


def _stage(slug: str) -> str:
    return RULES[slug].stage if slug in RULES else CRASHED


def _stages(gaps: Iterable[Gap]) -> dict[str, dict[str, int]]:
    stages: dict[str, Counter[str]] = defaultdict(Counter)
    for gap in gaps:
        stages[_stage(gap.rule)][gap.weight] += 1
    return {stage: dict(counts) for stage, counts in sorted(stages.items())}


def _gaps(result: Result, outside: ExternalLots) -> Iterator[GapFact]:
    """The gaps, heaviest first, as many as are kept."""
    order = sorted(range(len(result.gaps)), key=lambda at: (WEIGHTS.index(result.gaps[at].weight), at))
    kept = order[:GAPS_KEPT]
    where = result.locate(result.gaps[at].place for at in kept)
    for at in kept:
        gap = result.gaps[at]
        lot, named = outside.gaps.get(at, ("", ""))
        yield GapFact(
            rule=gap.rule,
            weight=gap.weight,
            stage=_stage(gap.rule),
            table=gap.table,
            id=gap.id,
            file=shorten(gap.place.file),
            line=where.get(gap.place, (0, 0))[0],
            message=shorten(gap.message),
            remedy=shorten(gap.remedy),
            lots=gap.lots[:NAMES_KEPT],
            outside=lot,
            named=shorten(named),
        )


def _mends(result: Result, outside: ExternalLots) -> Iterator[MendFact]:
    for mend in result.mend[:MENDS_KEPT]:
        elsewhere = [outside.gaps[gap][0] for gap in mend.gaps if gap in outside.gaps]
        names = tuple(dict.fromkeys(elsewhere)) if len(elsewhere) == len(mend.gaps) else ()
        text = shorten(f"{mend.action} {mend.text}")
        yield MendFact(text, mend.proves_mg, mend.lots[:NAMES_KEPT], names)


def _plantings(result: Result) -> Iterator[PlantingFact]:
    frame = result.season.table("plantings")
    frame = frame[frame["origin.lot"].notna()]
    known = set(result.lineage.nodes) - result.lineage.missing
    own = {node.id for node in known if node.table == "lots"}
    for planting, lot, supplier in plain_rows(frame, "planting", "origin.lot", "origin.supplier"):
        yield PlantingFact(planting, lot, shorten(supplier or ""), lot in own)


def _moves(result: Result) -> Iterator[MoveFact]:
    frame = result.season.table("movements")
    complete = frame["party"].notna() & frame["weight_mg"].notna()
    frame = frame[frame["kind"].isin(list(_PARTIES)) & complete]
    columns = ("movement", "date", "lot", "kind", "weight_mg", "party", "document", "status")
    for movement, day, lot, kind, weight, party, document, status in plain_rows(frame, *columns):
        papers = (shorten(party), shorten(document or ""))
        yield MoveFact(movement, day.isoformat(), lot, kind, int(weight), *papers, status or "")


def _reports(result: Result) -> Iterator[ReportFact]:
    """Each laboratory's report once for trees and once for lots, as it is claimed for them."""
    samples, screening = result.case.samples, result.case.season.table("screening")
    samples = samples[samples["row"] < result.case.season.own("screening")]
    numbers = plain_values(screening["report"])
    about: dict[tuple[str, str, str], dict[str, None]] = defaultdict(dict)
    laboratories = plain_values(screening["laboratory"])
    for row, tree in plain_rows(samples[samples["tree"].notna()], "row", "tree"):
        report = numbers[row]
        if report is not None:
            about[laboratories[row] or "", report, "trees"][tree] = None
    tests = result.season.table("tests")
    for report, laboratory, lot in plain_rows(tests[tests["report"].notna()], "report", "laboratory", "lot"):
        about[laboratory or "", report, "lots"][lot] = None
    for (laboratory, report, table), things in about.items():
        yield ReportFact(shorten(laboratory), shorten(report), table, tuple(things)[:NAMES_KEPT], len(things))


def _uses(result: Result) -> Iterator[UseFact]:
    season = result.season
    varieties = result.case.batch_varieties.groupby("batch")["variety"].agg(tuple).to_dict()
    for table, cleaning in (("batches", False), ("cleaning", True)):
        frame = season.table(table)
        key = load_tables()[table].key
        dates, names = plain_values(frame["date"]), plain_values(frame[key])
        statuses = plain_values(frame["status"]) if "status" in frame else None
        for row, piece in plain_rows(season.exploded(table, "equipment"), "row", "value"):
            record = names[row]
            yield UseFact(
                shorten(str(piece)),
                dates[row].isoformat(),
                int(row),
                cleaning,
                record,
                () if cleaning else tuple(varieties.get(record, ())),
                statuses[row] or "" if statuses else "",
            )


def _yields(result: Result) -> Iterator[YieldFact]:
    """Seed that this season's batches gave, by variety, and the cleared trees behind it."""
    clear = _clear_trees(result)
    packed = result.case.packed
    from_batches = packed[packed["batch"].notna()].groupby("lot")["weight_mg"].sum().to_dict()
    seed: Counter[str] = Counter()
    trees: dict[str, set[str]] = defaultdict(set)
    for lot, standing in result.lots.items():
        weight = int(from_batches.get(lot, 0))
        if weight and not result.lineage.season_of(Node("lots", lot)):
            seed[standing.variety] += weight
            parents = [node.id for node in result.lineage.seed_parents(lot)]
            trees[standing.variety].update(clear.intersection(parents))
    for variety, weight in sorted(seed.items()):
        yield YieldFact(shorten(variety), weight, len(trees[variety]))


def _balance(result: Result) -> dict[str, dict[str, int]]:
    """The season's mass balance by variety; empty where the ledger contradicts itself (a gap says so)."""
    from certgen.figures.balance import balance_period

    try:
        ledger = result.ledger
        if not len(ledger):
            return {}
        table: Any = balance_period(ledger, None, "variety")
    except ValueError:
        return {}
    return {
        str(variety): {column: int(value) for column, value in line.items() if value}
        for variety, line in table.to_dict(orient="index").items()
    }
