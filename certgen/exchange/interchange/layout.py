"""How JSON and CSV are laid out wherever certgen writes them, and the parts that their contents share.

A lot is described alike in each output: what its grams are worth, where they are, what shows it.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from functools import lru_cache
from json.encoder import encode_basestring
from math import isfinite
from types import NoneType
from typing import TYPE_CHECKING, Any, Final

from certgen.dossier.custody import tell_custody
from certgen.dossier.suppliers import list_through
from certgen.exchange.spreadsheets.rows import neutralise

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from certgen.dossier.custody import Moved
    from certgen.dossier.lot_odds import LotOdds
    from certgen.examination import Result
    from certgen.figures.transmission import Span
    from certgen.lineage import LotStanding, Node
    from certgen.records import ReadingError
    from certgen.rules.proofs import Shown
    from certgen.standards import Caution


def render_json(content: Any) -> str:
    """A document as text, with a line feed at its end. Days are ISO dates, a table's numbers plain ones."""
    return "".join(iterate_json(content))


def iterate_json(content: Any) -> Iterator[str]:
    """The same piece by piece, the elements of an object's lists one by one, and never held whole."""
    if isinstance(content, dict) and content:
        mark = "{"
        for key, value in content.items():
            yield f"{mark}\n {_name_key(_as_key(key))}"
            yield from _iterate_list(value)
            mark = ","
        yield "\n}\n"
    else:
        yield _lay_out(content, "\n") + "\n"


def _iterate_list(value: Any) -> Iterator[str]:
    if isinstance(value, list | tuple) and value:
        mark = "["
        for each in value:
            yield mark + "\n  " + _lay_out(each, "\n  ")
            mark = ","
        yield "\n ]"
    else:
        yield _lay_out(value, "\n ")


def _lay_out(value: Any, margin: str) -> str:
    """A value as `json.dumps` gives it with an indent of 1; `margin` begins each of its lines.

    The library indents by a generator a value and keeps a list of all their pieces: four times the time, and
    for the thousands of lots of a tangled season several hundred megabytes.
    """
    return _WAYS.get(type(value), _lay_out_other)(value, margin)


def _lay_out_object(value: Mapping[Any, Any], margin: str) -> str:
    if not value:
        return "{}"
    inner, ways, told = f"{margin} ", _WAYS, []
    for key, each in value.items():
        # Half of all values are text, and there are hundreds of thousands.
        kind = type(each)
        text = encode_basestring(each) if kind is str else ways.get(kind, _lay_out_other)(each, inner)
        told.append(_name_key(key if type(key) is str else _as_key(key)) + text)
    return f"{{{inner}{f',{inner}'.join(told)}{margin}}}"


def _lay_out_array(value: Iterable[Any], margin: str) -> str:
    inner, ways = f"{margin} ", _WAYS
    told = [
        encode_basestring(each)
        if (kind := type(each)) is str
        else ways.get(kind, _lay_out_other)(each, inner)
        for each in value
    ]
    return f"[{inner}{f',{inner}'.join(told)}{margin}]" if told else "[]"


def _lay_out_other(value: Any, margin: str) -> str:
    """What isn't of a plain type itself."""
    if isinstance(value, str):
        return encode_basestring(value)
    if isinstance(value, dict):
        return _lay_out_object(value, margin)
    return _lay_out_array(value, margin) if isinstance(value, list | tuple) else _render_plain(value)


@lru_cache(maxsize=1024)
def _name_key(key: str) -> str:
    """A key with what stands between it and its value: there are few different ones."""
    return f"{encode_basestring(key)}: "


def _as_key(key: object) -> str:
    return key if isinstance(key, str) else _render_plain(key)


def _as_plain(value: Any) -> object:
    if isinstance(value, dt.date):
        return value.isoformat()
    if hasattr(value, "item"):
        return value.item()
    raise TypeError(f"{type(value).__name__} has no form in JSON")


_render_plain = json.JSONEncoder(default=_as_plain).encode
#: How values are laid out, by their type.
_WAYS: Final[dict[type, Callable[[Any, str], str]]] = {
    dict: _lay_out_object,
    list: _lay_out_array,
    tuple: _lay_out_array,
    str: lambda value, _: encode_basestring(value),
    int: lambda value, _: repr(value),
    # A number's own text is JSON's, but for what is none.
    float: lambda value, _: repr(value) if isfinite(value) else _render_plain(value),
    bool: lambda value, _: "true" if value else "false",
    NoneType: lambda _value, _margin: "null",
}


def render_csv(heading: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows below a heading; nothing is an empty cell, and what a spreadsheet would run is neutralised."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heading)
    writer.writerows(
        [neutralise(value) if isinstance(value, str) else value for value in row] for row in rows
    )
    return out.getvalue()


def grams(milligrams: int) -> float:
    """Milligrams as grams: at most three decimals, and the same figure again when it is read back."""
    return round(milligrams / 1000, 3)


def name_season(result: Result) -> dict[str, str]:
    """The season's label and operation."""
    details = result.season.details
    return {"label": details.label, "operation": details.operation.name}


def tell_cautions(cautions: Iterable[Caution]) -> list[dict[str, str]]:
    """Cautions as each output that carries some has them."""
    return [{"title": one.title, "text": one.short, "defers_to": one.defers_to} for one in cautions]


def list_errors(errors: Iterable[ReadingError]) -> list[dict[str, Any]]:
    """Reading errors, each with its place."""
    return [
        {"file": error.file, "line": error.line, "column": error.column, "message": error.message}
        for error in errors
    ]


def name_record(result: Result, node: Node) -> dict[str, str]:
    """A record's table, identifier and season (empty for this one)."""
    return {"table": node.table, "id": node.id, "season": result.lineage.season_of(node)}


def describe_standing(lot: LotStanding) -> dict[str, Any]:
    """The lot's standing and its grams by what they are worth."""
    return {
        "standing": lot.standing,
        "traced_g": grams(lot.traced_mg),
        "unproven_g": grams(lot.unproven_mg),
        "rejected_g": grams(lot.rejected_mg),
        "unaccounted_g": grams(lot.unaccounted_mg),
    }


def describe_custody(result: Result, lot: str) -> dict[str, Any] | None:
    """Where the lot's grams are: on hand, by count or by the book, and what left to whom; None where not all
    of it is told."""
    if not result.stock_told:
        return None
    custody = tell_custody(result, lot)
    return {
        "on_hand_g": grams(custody.on_hand_mg),
        "counted": custody.counted,
        "left": _list_moved(custody.left),
        "came": _list_moved(custody.came),
    }


def _list_moved(moved: Iterable[Moved]) -> list[dict[str, Any]]:
    return [{"kind": seed.kind, "party": seed.party, "weight_g": grams(seed.weight_mg)} for seed in moved]


def describe_through(result: Result, lot: str) -> list[dict[str, Any]]:
    """The suppliers' packets that a lot's claim rests on, with whose key signed them and who says so."""
    return [
        {
            "table": one.table,
            "id": one.id,
            "weight_g": None if one.weight_mg is None else grams(one.weight_mg),
            "supplier": one.supplier,
            "certificate": one.certificate,
            "supplier_lot": one.theirs,
            "packet": one.file,
            "date": one.on.isoformat(),
            "fingerprint": one.fingerprint,
            "key": one.signer.fingerprint,
            "told_by": one.signer.told_by,
            "told_on": one.signer.date.isoformat(),
        }
        for one in list_through(result, lot)
    ]


def describe_odds(odds: LotOdds) -> dict[str, Any]:
    """What screening leaves open of a lot, shares from 0 to 1, no chance below what handling errors leave."""
    check = odds.check
    return {
        "floor": odds.floor,
        "events": [
            {
                "events": list(one.events),
                "passing": _describe_span(one.passing, odds.floor),
                "blind": _tidy(one.blind),
                "open": _tidy(one.worst),
            }
            for one in odds.events
        ],
        "one_copy": _describe_span(odds.one),
        "two_copies": _describe_span(odds.two),
        "seed_test": None
        if check is None
        else {
            "test": check.test,
            "targets": list(check.targets),
            "bound": None if check.bound is None else _tidy(max(check.bound, odds.floor)),
            "missing": _describe_span(check.missing, odds.floor),
        },
        "positive_tests": list(odds.positive_tests),
        "parents": len(odds.parents),
        "open_parents": [parent.tree for parent in odds.open_parents],
        "unknown": _tidy(odds.unknown),
        "open_pollen": _tidy(odds.open_pollen),
    }


def _describe_span(span: Span | None, floor: float = 0.0) -> dict[str, float] | None:
    """A span without the noise of binary fractions."""
    if span is None:
        return None
    return {"low": _tidy(max(span.low, floor)), "high": _tidy(max(span.high, floor))}


def _tidy(share: float) -> float:
    return min(1.0, round(share, 9))


def list_names(key: str, names: Sequence[str], most: int | None) -> dict[str, Any]:
    """Names under a key; where they are too many the first of them, and how many more there are."""
    if most is None or (there := len(names)) <= most:
        return {key: list(names)}
    return {key: list(names[:most]), f"more_{key}": there - most}


def describe_proof(result: Result, lot: str) -> list[dict[str, Any]]:
    """Each obligation of a lot."""
    return [describe_shown(shown) for shown in result.proof(lot)]


def describe_shown(shown: Shown, most: int | None = None) -> dict[str, Any]:
    """An obligation of a lot: its records, how many show it, who says so, and for how many grams.

    At most so many of the records that leave it open are named; None for all.
    """
    return {
        "obligation": shown.obligation.key,
        "table": shown.obligation.table,
        "records": shown.records,
        "shown": shown.shown,
        "by": dict(shown.by),
        **list_names("open", shown.open, most),
        "weight_g": grams(shown.weight_mg),
    }
