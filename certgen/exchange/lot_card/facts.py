"""What a lot's card tells, as the object that `schemas/output/lot_card.json` describes."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.lot_odds import weigh_lots
from certgen.dossier.odds_wording import say_part, tell_lot
from certgen.dossier.seed_tests import Germination, compute_tests
from certgen.dossier.suppliers import list_through
from certgen.exchange.field_paper.labels import LabelError, lot_labels
from certgen.figures.validity import keeps_until
from certgen.records.names import Names
from certgen.records.rows import plain_rows
from certgen.rules.registry import load_rules
from certgen.rules.seed.holds import list_holds

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from certgen.dossier.lot_odds import LotOdds
    from certgen.examination import Result
    from certgen.manifest import Maker

#: Grows when a fact's meaning changes; readers refuse what they don't know.
FORMAT: Final = 1
_TEST_AGE: Final = "germination_test_age_months"
#: What the card was made by and how it is laid out: no fact of the lot.
_NO_FACTS: Final = frozenset({"made_by", "page", "signature"})


class CardError(ValueError):
    """A lot that no record bears, or a file that is no card."""


def gather_facts(result: Result, lot: str, packet: str, maker: Maker, page: str = "A4") -> dict[str, Any]:
    """All that the card of a lot says, in an order that doesn't change.

    `packet` is the SHA-256 of the packet that the card refers to, `page` the paper, A4 or Letter. Raises
    `CardError` for a lot that isn't in the season.
    """
    if lot not in result.lots:
        known = ", ".join(result.lots) or "none"
        raise CardError(f"no record bears the lot number {lot}; the season's lots are {known}")
    standing, record = result.lots[lot], result.farm.record("lots", lot) or {}
    operation = result.season.details.operation
    odds = weigh_lots(result, lots=[lot])[lot]
    doubted = _find_doubted(result, lot)
    return {
        "format": FORMAT,
        "lot": lot,
        "name": Names(result.farm, "").of("lots", lot),
        "on": result.on.isoformat(),
        "operation": {
            "name": operation.name,
            "certificate": operation.certificate or "",
            "certifier": operation.certifier or "",
        },
        "variety": standing.variety,
        "botanical": result.profile.botanical,
        "packed": _day(record.get("packed")),
        "standing": standing.standing,
        "weight_mg": int(standing.weight_mg),
        "traced_mg": int(standing.traced_mg),
        "unproven_mg": int(standing.unproven_mg),
        "rejected_mg": int(standing.rejected_mg),
        "unaccounted_mg": int(standing.unaccounted_mg),
        "findings": _list_findings(result, lot),
        "held": any(hold.holds_on(result.on) for hold in list_holds(result.case).get(lot, ())),
        "parents": _count_parents(result, lot, odds, doubted[0]),
        "methods": _list_methods(result, odds, *doubted),
        "open": [{"asked": asked, "answer": answer} for asked, answer in tell_lot(odds, named=False)],
        "germination": _find_germination(result, lot),
        "label": _word_label(result, lot),
        "packet": packet,
        "page": page,
        "made_by": {"version": maker.version, "code": maker.code, "setting": dict(maker.setting)},
        "signature": None,
    }


def _day(value: date | None) -> str:
    return "" if value is None else value.isoformat()[:10]


def _list_findings(result: Result, lot: str) -> list[dict[str, Any]]:
    """What keeps grams from being traced, by rule. A finding's own words name trees, bags and buyers."""
    rules = load_rules()
    heavy = Counter((gap.rule, gap.weight) for gap in result.gaps_of_lot(lot) if gap.weight != "advice")
    return [
        {
            "rule": slug,
            "title": rules[slug].title if slug in rules else "A rule broke off, so what it looks at is open.",
            "weight": weight,
            "count": number,
        }
        for (slug, weight), number in heavy.items()
    ]


def _find_doubted(result: Result, lot: str) -> tuple[set[str], set[str]]:
    """The trees, and the samples, at which something stands that keeps grams of the lot from being traced."""
    heavy = [gap for gap in result.gaps_of_lot(lot) if gap.weight != "advice"]
    samples = {one for gap in heavy if gap.table == "screening" for one in gap.ids}
    trees = {one for gap in heavy if gap.table == "trees" for one in gap.ids}
    taken = result.case.samples
    return trees | set(taken["tree"][taken["sample"].isin(samples)]), samples


def _count_parents(result: Result, lot: str, odds: LotOdds, doubted: set[str]) -> dict[str, Any]:
    pollen = {node.id for node in result.lineage.pollen_parents(lot)}
    seed = {node.id for node in result.lineage.seed_parents(lot)}
    trees = {parent.tree for parent in odds.parents}
    return {
        "trees": len(trees),
        "cleared": sum(parent.cleared and parent.tree not in doubted for parent in odds.parents),
        "doubted": sum(parent.cleared and parent.tree in doubted for parent in odds.parents),
        "positive": sum(parent.found for parent in odds.parents),
        "pollen_only": len((pollen - seed) & trees),
        "seed_without_parent": say_part(odds.unknown, odds.floor) if odds.unknown else "",
        "through_packets": len({one.file for one in list_through(result, lot)}),
    }


def _list_methods(result: Result, odds: LotOdds, trees: set[str], samples: set[str]) -> list[dict[str, Any]]:
    """What the parents' leaves were tested with and found negative: results counted once, pools as one.
    Neither `trees` nor `samples`, which are in doubt, count.
    """
    cleared = [parent.tree for parent in odds.parents if parent.cleared and parent.tree not in trees]
    taken = result.case.samples
    negative = taken[taken["tree"].isin(cleared) & (taken["outcome"] == "negative")]
    negative = negative[~negative["sample"].isin(samples)]
    negative = negative[~negative["sample"].duplicated()]
    found = Counter(
        (str(method), tuple(targets or ()))
        for method, targets in plain_rows(negative, "method", "targets")
        if method in result.profile.methods
    )
    concern = set(result.case.events_of_concern)
    return [
        {
            "method": result.profile.methods[method].title,
            "targets": list(targets),
            "results": number,
            "sees": sorted(concern & set(result.profile.methods[method].sees(targets))),
            "cannot_see": result.profile.methods[method].cannot_see,
        }
        for (method, targets), number in sorted(found.items())
    ]


def _find_germination(result: Result, lot: str) -> dict[str, Any] | None:
    """The latest germination test by the day, with how long it holds; whether its replicates agree."""
    tests = [
        test
        for test in compute_tests(result)
        if test.lot == lot and isinstance(test.figure, Germination) and test.day <= result.on
    ]
    if not tests:
        return None
    latest = max(tests, key=lambda test: test.day)
    figure: Any = latest.figure
    usual = result.case.practice(_TEST_AGE)
    practice = None if usual is None or usual.high is None else keeps_until(latest.day, usual.high)
    # The sooner of what seed law is read to ask and what is practice.
    terms = [(day, said) for day, said in ((figure.ship_by, "seed law"), (practice, "practice")) if day]
    last, basis = min(terms) if terms else (None, "")
    return {
        "percent": figure.verdict.rounded_mean,
        "seeds": figure.seeds,
        "agrees": figure.verdict.passes,
        "tested": _day(latest.day),
        "holds_until": _day(last),
        "by": basis,
    }


def _word_label(result: Result, lot: str) -> list[list[str]]:
    """What stands on the lot's label, line by line; nothing where no label can be printed here."""
    try:
        label = lot_labels(result, [lot])[0]
    except LabelError:
        return []
    lines = [*label.lines, *label.treated, *(("Caution", words) for words in label.cautions)]
    return [[name, value] for name, value in lines if value]


def digest_facts(facts: Mapping[str, Any]) -> str:
    """The SHA-256 of what a card says of its lot, whatever made it and however it is laid out."""
    told = {name: value for name, value in facts.items() if name not in _NO_FACTS}
    written = json.dumps(told, ensure_ascii=True, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(written.encode("ascii")).hexdigest()


def write_facts(facts: Mapping[str, Any]) -> bytes:
    """The object as the bytes that lie inside the card."""
    return (json.dumps(facts, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n").encode()
