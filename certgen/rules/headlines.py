"""A gap in one line, which names the thing: for headings, lists and the first page, beside the whole message.

Most messages begin with the thing and are short enough to be their own headline. Of those that aren't, the
table below says it; a few rules say it themselves, since it depends on what was found (`Finding.headline`).
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from certgen.rules.wording import capital, count, noun

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

#: As many letters as two lines of a card have room for.
MOST: Final = 90

#: By rule. `record` is the record ("Bag B-17"), `entry` the same within a line; other names are fields of the
#: record. Where one of these is absent the message stands.
_SAYINGS: Final = {
    "records-disagree": "{record}: two places tell one thing differently",
    "land-too-recent": "{record}: picked as organic too soon after a prohibited substance",
    "land-history-missing": "{record}: nothing says how long its land has been organic",
    "block-not-organic": "{record} is {status}, and its fruit is called organic",
    "buffer-narrow": "{record}: its buffer is narrower than a standard asks for",
    "split-operation-unseparated": "{record}: {variety} stands on organic land and on other land",
    "planting-search-missing": "{record}: no search for organic seed is on record",
    "supplier-certificate-missing": "{record}: no certificate of its supplier is named",
    "non-gm-statement-missing": "{record}: no statement that its material isn't engineered",
    "mother-plant-too-young": "{record} was picked before it had grown organically long enough",
    "planting-seed-unproven": "{record} was sown from seed that is not all traced",
    "parent-positive": "{record} tested positive",
    "parent-inconclusive": "{record} has no screening result that counts",
    "parent-conflicting": "{record}: its screening results contradict each other",
    "screened-after-covering": "{record} was put on before its tree was cleared",
    "off-type-parent": "{record} calls a parent tree off-type",
    "diseased-parent": "{record} tells of signs of disease on a parent tree",
    "observation-undecided": "{record}: nothing says what was decided",
    "sex-seen-differs": "{record} saw another sex than the register says",
    "input-unlisted": "{material} on block {block}: nothing says what allows it",
    "approval-not-holding": "{material} on block {block}: its approval doesn't cover this use",
    "input-prohibited": "{material} on block {block}: no standard here allows it",
    "material-not-listed": "{material} on block {block}: not on the list of approved materials",
    "compost-unshown": "{record}: its readings don't show that it was composted",
    "manure-before-picking": "{material} on block {block} soon before a picking",
    "material-before-scouting": "{material} on block {block}: no scouting walk shows the need",
    "label-time-short": "{material} on block {block}: work or picking sooner than its label allows",
    "water-unfit": "{record}: found unfit, and nothing says what was done",
    "block-area-differs": "{record}: its area is not the one between its corners",
    "screening-before-planting": "{record} was cut before tree {tree} was planted",
    "report-missing": "{record} has a result, and no report or letter shows it",
    "pool-conflicting": "{record} is a pool that its trees' own results contradict",
    "pool-unresolved": "{record} is a positive pool whose trees were not all tested singly",
    "sample-out-of-range": "{record} was taken outside usual practice",
    "sample-without-submission": "{record}: no submission sheet says how it came to the laboratory",
    "custody-dates-contradict": "{record}: its days contradict each other",
    "positive-left-standing": "{record} tested positive, and nothing says what was done",
    "bag-unwatched": "{record}: nothing shows that it stayed whole long enough",
    "bag-in-storm": "{record} hung through a storm, and nobody is known to have looked since",
    "bag-tag-shared": "{record} bears the same tag as another bag",
    "bag-on-absent-tree": "{record} was put on a tree that wasn't there on that day",
    "tree-too-young": "{record} was put on a tree too young to flower",
    "bag-reused": "{record} was used before, and nothing shows that it was clean",
    "fruit-unbagged": "{record} holds fruit that no bag stands for",
    "batch-with-other-seed": "{record} holds seed that no picking stands for",
    "batch-mixed-status": "{record} is called {status}, and part of its fruit is not",
    "batch-mixed-variety": "{record} holds seed of more than one variety",
    "harvest-interval-unlikely": "{record}: the time from covering to picking is unlikely",
    "extraction-delayed": "{record}: its fruit was opened sooner or later than is usual",
    "extracted-before-ripe": "{record}: its fruit was opened before it was ripe",
    "extraction-run-unusual": "{record}: the machine ran for an unusual time",
    "equipment-not-cleaned": "{record}: no cleaning after other seed is written down",
    "harvest-weight-impossible": "{record}: its weight is impossible for so many fruit",
    "batch-weight-impossible": "{record} gave more dry seed than there can have been",
    "exercise-differs": "{record}: an exercise came out otherwise than the records",
    "finding-against-seed": "A finding of {visit} is about seed, and no letter closes it",
    "finding-overdue": "A finding of {visit} is overdue for an answer",
    "finding-left-open": "A finding of {visit} isn't closed by a letter of the certifier",
    "answer-without-paper": "An answer given after {visit} has no filed paper",
    "finding-closed-unshown": "A finding of {visit} is called closed, and nothing shows by whom",
    "request-unanswered": "A request of {visit} is overdue for an answer",
    "visit-dates-contradict": "{record}: its days contradict each other",
    "incident-open": "{record} has neither action nor day on which it was closed",
    "incident-of-mixing": "{record} says that other seed got in",
    "incident-of-drift": "{record} tells of drift onto land of parents",
    "lot-mixed": "{record}: not all its seed is of the variety or status it is called",
    "bought-seed-unproven": "{record} holds bought seed whose parents are in no record",
    "blend-circular": "{record} is blended in a circle",
    "packet-unsound": "{record}: the supplier's packet is not sound",
    "packet-circular": "{record}: the supplier's packet rests on this operation's own",
    "packet-of-another": "{record}: the packet is another operation's or another crop's",
    "packet-signer-unknown": "{record}: nobody known signed the supplier's packet",
    "packet-outdated": "{record}: the supplier's packet is out of date",
    "packet-lot-differs": "{record}: the supplier's packet has no such lot, or one of another kind",
    "packet-lot-untraced": "{record}: its seed isn't traced in the supplier's packet",
    "packet-grams-exceeded": "{record}: more is drawn than the supplier's packet shows",
    "transgene-in-kin": "{record} found a transgene, and other lots share runs or parents",
    "sample-before-seed": "{record}: its sample is older than the seed",
    "sample-unrecorded": "{record} used more seed than the ledger shows as samples",
    "moisture-repeats-differ": "{record}: its moisture repeats or weighings can't be right",
    "container-not-cleaned": "{record} was packed into used containers that show no cleaning",
    "storage-too-long": "Seed of lot {lot} left after long storage ({entry})",
    "sold-while-held": "Seed of lot {lot} left while it was held ({entry})",
    "recall-unresolved": "{record}: no paper or test shows how it ended",
    "recall-without-hold": "{record}: nothing says that the rest of the lot was held back",
    "recall-holder-untold": "{record} names no day on which a holder was told",
    "recall-weight-differs": "{record}: a holder was told another weight than the stock book's",
    "recall-party-unsupplied": "{record} told somebody who had none of the lot",
    "recall-answer-differs": "{record}: a holder's answer doesn't account for all",
    "recall-return-unbooked": "{record}: seed sent back is in no movement",
    "recall-closed-unanswered": "{record} was closed before a holder had answered",
    "sold-before-packed": "Seed of lot {lot} left before the lot was packed ({entry})",
    "sold-before-cleared": "Seed of lot {lot} left before its parents were known to be cleared ({entry})",
    "sale-without-document": "{weight} of lot {lot} left without its papers ({entry})",
    "receipt-without-document": "Nothing says from whom or on what paper seed came to lot {lot} ({entry})",
    "document-repeated": "Document {document} stands at more than one sale",
    "last-certified-operation-missing": "Document {document} names no last certified operation",
    "dispatch-status-missing": "Document {document} doesn't say organic",
    "sold-above-status": "Seed of lot {lot} left under a better status than its own ({entry})",
    "germination-missing": "Seed of lot {lot} left before any germination test ({entry})",
    "germination-expired": "Seed of lot {lot} left on an old germination test ({entry})",
    "germination-too-quick": "{record}: its days don't fit its counts",
    "returned-seed-mixed": "Seed that came back to lot {lot} isn't shown to be what left ({entry})",
    "received-into-own-lot": "Seed from elsewhere went into lot {lot} ({entry})",
    "lot-overdrawn": "More left lot {lot} than was in it ({entry})",
    "records-missing-past-seasons": "{record}: an earlier season is not named",
    "season-before-of-another": "{record}: the season before is another operation's",
    "evidence-absent": "{record} names a file that is not there, or empty",
    "evidence-unnamed": "No record names the file {id}",
    "letter-unfiled": "{record}: no copy of its letter is filed",
    "certificate-outdated": "Seed of lot {lot} left as organic outside the certificate's days ({entry})",
    "inspection-overdue": "{record}: the yearly inspection is overdue",
    "plan-outdated": "{record}: a section of the plan is more than a year old",
    "own-figure-loosens": "{record}: its own figures let more pass than the crop's do",
    "explanation-idle": "An explanation speaks of a gap that isn't there ({id})",
}
_BRACES: Final = re.compile(r"{(\w+)}")
_SENTENCE_END: Final = re.compile(r"\. (?=[A-Z0-9])")
_BRACKETS: Final = re.compile(r" ?\([^()]*\)")
_BACKTICKS: Final = re.compile(r"`([^`]*)`")


def write_headline(
    rule: str, table: str, ids: Sequence[str], message: str, value_of: Callable[[str], str], said: str = ""
) -> str:
    """One line of at most `MOST` letters that names the thing, without a full stop.

    `ids` are the records that the gap was found at, `said` is what the rule says itself; `value_of` gives a
    field of the first record, or an empty text where it is absent.
    """
    saying = _SAYINGS.get(rule, "")
    words = said or (_fill(saying, table, ids, value_of) if saying else "") or _shorten(message)
    return _fit(words)


def _fill(saying: str, table: str, ids: Sequence[str], value_of: Callable[[str], str]) -> str:
    id_, more = ids[0], len(ids) - 1
    entry = f"{noun(table)} {id_}"
    if more and saying.startswith("{record}:"):
        entry += f" and {count(more, 'other')}"
    names = {"record": capital(entry), "entry": entry, "visit": f"visit {id_}", "id": id_}
    names |= {field: value_of(field) for field in _list_fields(saying) if field not in names}
    return saying.format_map(names) if all(names.values()) else ""


@lru_cache
def _list_fields(saying: str) -> tuple[str, ...]:
    """What stands in braces, each once."""
    return tuple(sorted(set(_BRACES.findall(saying))))


def _shorten(message: str) -> str:
    """The first sentence of a message, without what stands in brackets where it is long."""
    end = _SENTENCE_END.search(message)
    first = message if end is None else message[: end.start()]
    return first if len(first) <= MOST else _BRACKETS.sub("", first)


def _fit(words: str) -> str:
    """Words on one line, cut at a blank with an ellipsis where they are too long."""
    if "`" in words:
        words = _BACKTICKS.sub(lambda found: found[1].replace("_", " "), words)
    line = " ".join(words.split()).rstrip(".")
    line = capital(line)
    if len(line) <= MOST:
        return line
    cut = line[: MOST - 1].rpartition(" ")[0] or line[: MOST - 2]
    return f"{cut.rstrip(',;: ')} …"
