"""An examined season to what the co-op keeps of it. Tables are asked in bulk and let go."""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import islice
from typing import TYPE_CHECKING, Any

from certgen.coop.members.external_lots import ExternalLots
from certgen.coop.members.facts import (
    ERRORS_KEPT,
    GAPS_KEPT,
    MENDS_KEPT,
    NAMES_KEPT,
    PLACES_KEPT,
    TREES_KEPT,
    GapFact,
    Grams,
    LotFact,
    MemberSummary,
    MendFact,
    MoveFact,
    PaperFact,
    PlantingFact,
    ReportFact,
    Stated,
    UseFact,
    YieldFact,
    shorten,
)
from certgen.coop.members.handed_papers import list_evidence, list_measured, samples_by_report
from certgen.dossier.papers import count_weighing, list_unpapered
from certgen.exchange.editing.evidence import named_evidence
from certgen.lineage import Node
from certgen.records.columns import is_in
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
    named = named_evidence(result.season)
    absent = list(dict.fromkeys(entry.path for entry in named if not entry.there))
    return MemberSummary(
        member=member,
        state="read",
        fingerprint=fingerprint,
        stated=Stated(
            operation=shorten(details.operation.name),
            certificate=shorten(details.operation.certificate),
            label=details.label,
            standards=details.standards,
            crop=details.crop,
            responsible=shorten(details.operation.responsible),
            scale_step_mg=result.case.scale_step_mg,
            first=min(one.details.start for one in result.case.season.stretches).isoformat(),
            start=details.start.isoformat(),
            last=details.end.isoformat(),
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
        drawn=_drawn(result),
        blocks=_blocks(result),
        mend=tuple(_mends(result, outside)),
        errors=tuple(shorten(error.text()) for error in result.errors[:ERRORS_KEPT]),
        error_count=len(result.errors),
        crashed=tuple(crash.rule for crash in result.crashed),
        absent=tuple(map(shorten, absent[:NAMES_KEPT])),
        absent_count=len(absent),
        papers=tuple(_papers(result)),
        evidence=tuple(list_evidence(result)),
        measured=tuple(list_measured(result)),
        places=_places(result),
    )


#: The tables of records that are told of beside other members', with how they are numbered there.
_PLACED = ("lots", "movements", "plantings", "batches", "screening")


def _places(result: Result) -> dict[str, tuple[str, int]]:
    """Where records stand that may be told of beside others': the first of each number."""
    season = result.season
    named = {
        f"{table}/{number}": season.place(table, row)
        for table in _PLACED
        for number, row in islice(season.columns(table).first(load_tables()[table].key).items(), PLACES_KEPT)
    }
    where = result.locate(named.values())
    return {name: (shorten(place.file), where.get(place, (0, 0))[0]) for name, place in named.items()}


def _papers(result: Result) -> Iterator[PaperFact]:
    for kind in list_unpapered(result.case):
        names = tuple(shorten(record) for record, _ in kind.records[:NAMES_KEPT])
        yield PaperFact(kind.title, names, len(kind.records), count_weighing(result, kind))


def _grams(standing: LotStanding) -> Grams:
    grams = Grams(standing.traced_mg, standing.unproven_mg, standing.rejected_mg, standing.unaccounted_mg)
    return grams._replace(unsettled=int(standing.standing == "unproven" and grams.standing == "traced"))


def _clear_trees(result: Result) -> frozenset[str]:
    verdicts = result.case.joined("verdicts")
    return frozenset(verdicts["tree"][verdicts["verdict"] == "clear"].tolist())


def _lots(result: Result, outside: ExternalLots) -> Iterator[LotFact]:
    """Every lot of the farm, earlier seasons' too: others' trees stand on these."""
    standings = result.case.standings
    judged = standings.judge() if standings is not None else dict(result.lots)
    clear = _clear_trees(result)
    planting_of = _by_number(result, "trees", "tree", "planting")
    block_of = _by_number(result, "plantings", "planting", "block")
    packed = _by_number(result, "lots", "lot", "packed")
    for lot, standing in judged.items():
        parents = [node.id for node in result.lineage.seed_parents(lot)]
        plantings = _known(map(planting_of.get, parents))
        day, own, behind = packed.get(lot), _grams(standing), outside.lots_behind(lot)
        yield LotFact(
            lot=lot,
            current=lot in result.lots,
            variety=shorten(standing.variety),
            own=own,
            answered=outside.answered(lot) if behind else own,
            outside=behind,
            parents=len(parents),
            cleared=sum(tree in clear for tree in parents),
            plantings=plantings[:NAMES_KEPT],
            shares=outside.shares(lot) if behind else (),
            trees=tuple(parents[:TREES_KEPT]),
            uncleared=tuple(tree for tree in parents if tree not in clear)[:TREES_KEPT],
            blocks=_known(map(block_of.get, plantings))[:NAMES_KEPT],
            packed=day.isoformat() if day else "",
        )


def _by_number(result: Result, table: str, key: str, column: str) -> dict[str, Any]:
    """What a column of the farm's table says, by the record's number: of two records the first."""
    records = result.case.columns(table)
    values = records.values(column)
    return {number: values[row] for number, row in records.first(key).items()}


def _known(names: Iterable[object]) -> tuple[str, ...]:
    """The names among them, each once; what a broken record leaves out is none."""
    return tuple(dict.fromkeys(name for name in names if isinstance(name, str)))


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
        named = outside.gaps.get(at, ())
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
            lots=tuple(gap.lots[:NAMES_KEPT]),
            outside=named[0].lot if named else "",
            named=shorten(named[0].party) if named else "",
            also=tuple(one.lot for one in named[1:])[:NAMES_KEPT],
        )


def _mends(result: Result, outside: ExternalLots) -> Iterator[MendFact]:
    for mend in result.mend[:MENDS_KEPT]:
        elsewhere = [named.lot for gap in mend.gaps for named in outside.gaps.get(gap, ())]
        answered = all(gap in outside.gaps for gap in mend.gaps)
        names = tuple(dict.fromkeys(elsewhere)) if answered else ()
        text = shorten(f"{mend.action} {mend.text}")
        yield MendFact(text, mend.proves_mg, mend.lots[:NAMES_KEPT], names)


def _plantings(result: Result) -> Iterator[PlantingFact]:
    plantings = result.season.columns("plantings")
    known = set(result.lineage.nodes) - result.lineage.missing
    own = {node.id for node in known if node.table == "lots"}
    columns = ("planting", "origin.lot", "origin.supplier", "planted", "variety", "origin.certificate")
    of_lots = plantings.rows(*columns, where=plantings.known("origin.lot"))
    for _, planting, lot, supplier, planted, variety, certificate in of_lots:
        yield PlantingFact(
            planting,
            lot,
            shorten(supplier or ""),
            lot in own,
            planted.isoformat() if planted else "",
            shorten(variety or ""),
            shorten(certificate or ""),
        )


def _moves(result: Result) -> Iterator[MoveFact]:
    farm = result.case.season
    moves, own = farm.columns("movements"), farm.own("movements")
    told = is_in(moves["kind"], _PARTIES) & moves.known("party") & moves.known("weight_mg")
    columns = ("movement", "date", "lot", "kind", "weight_mg", "party", "document", "status")
    for row, movement, day, lot, kind, weight, party, document, status in moves.rows(*columns, where=told):
        came = (
            day.isoformat(),
            lot,
            kind,
            int(weight),
            shorten(party),
            shorten(document or ""),
            status or "",
        )
        yield MoveFact(movement, *came, earlier=row >= own)
    for one in result.case.purchases:
        bought = one.purchase
        if bought.table == "lots" and bought.supplier and bought.lot and bought.weight_mg:
            # Bought seed is a lot of its own: that it was packed is that it came.
            supplier, status = shorten(bought.supplier), bought.status
            came = (bought.on.isoformat(), bought.lot, "received", bought.weight_mg, supplier, "", status)
            yield MoveFact(bought.id, *came, "lots", earlier=bought.row >= farm.own("lots"))


_GOES = ("sold", "transferred", "sown", "sampled", "retained", "discarded", "downgraded")


def _drawn(result: Result) -> dict[str, int]:
    """What went into own lots, or left, of lots that the records name and don't hold."""
    farm = result.case.season
    held = farm.columns("lots").first("lot")
    drawn: Counter[str] = Counter()
    packed, moves = result.case.joined("packed"), farm.columns("movements")
    for _, lot, weight in packed.rows("source_lot", "weight_mg", where=packed.known("source_lot")):
        drawn[lot] += weight or 0
    left = is_in(moves["kind"], _GOES) & moves.known("weight_mg")
    for _, lot, weight in moves.rows("lot", "weight_mg", where=left):
        drawn[lot] += weight
    return {lot: weight for lot, weight in sorted(drawn.items()) if lot not in held}


def _blocks(result: Result) -> tuple[str, ...]:
    """The blocks of this season's plantings."""
    return tuple(result.season.columns("plantings").first("block"))[:NAMES_KEPT]


def _reports(result: Result) -> Iterator[ReportFact]:
    """Each laboratory's report once for trees and once for lots, as it is claimed for them."""
    samples, screening = result.case.joined("samples"), result.case.columns("screening")
    numbers, laboratories = screening["report"], screening["laboratory"]
    about: dict[tuple[str, str, str], dict[str, None]] = defaultdict(dict)
    own = (samples["row"] < result.case.season.own("screening")) & samples.known("tree")
    for _, row, tree in samples.rows("row", "tree", where=own):
        report = numbers[row]
        if report is not None:
            about[laboratories[row] or "", report, "trees"][tree] = None
    tests = result.season.columns("tests")
    for _, report, laboratory, lot in tests.rows("report", "laboratory", "lot", where=tests.known("report")):
        about[laboratory or "", report, "lots"][lot] = None
    samples_of = samples_by_report(result)
    for (laboratory, report, table), things in about.items():
        sent = tuple(samples_of.get(report, ())) if table == "trees" else ()
        yield ReportFact(
            shorten(laboratory),
            shorten(report),
            table,
            tuple(things)[:NAMES_KEPT],
            len(things),
            sent[:TREES_KEPT],
        )


def _uses(result: Result) -> Iterator[UseFact]:
    season = result.season
    varieties: dict[str, list[str]] = defaultdict(list)
    for _, batch, variety in result.case.joined("batch_varieties").rows("batch", "variety"):
        varieties[batch].append(variety)
    for table, cleaning in (("batches", False), ("cleaning", True)):
        records = season.columns(table)
        dates, names = records.values("date"), records.values(load_tables()[table].key)
        statuses = records.values("status") if "status" in records else None
        befores = records.values("before") if cleaning else None
        for _, row, piece in season.elements(table, "equipment").rows("row", "value"):
            record = names[row]
            yield UseFact(
                shorten(str(piece)),
                dates[row].isoformat(),
                row,
                cleaning,
                record,
                () if cleaning else tuple(varieties.get(record, ())),
                statuses[row] or "" if statuses else "",
                () if cleaning else tuple(result.lineage.lots_reached(Node("batches", record))[:NAMES_KEPT]),
                befores[row] or "" if befores else "",
            )


def _yields(result: Result) -> Iterator[YieldFact]:
    """Seed that this season's batches gave, by variety, and the cleared trees behind it."""
    clear = _clear_trees(result)
    packed = result.case.joined("packed")
    from_batches: Counter[str] = Counter()
    for _, lot, weight in packed.rows("lot", "weight_mg", where=packed.known("batch")):
        from_batches[lot] += weight or 0
    seed: Counter[str] = Counter()
    trees: dict[str, set[str]] = defaultdict(set)
    for lot, standing in result.lots.items():
        weight = from_batches[lot]
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
