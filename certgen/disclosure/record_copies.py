"""One record made anew for somebody else, field by field, as `x-discloses` in the schemas says.

A field that says nothing of it is left out, and so is a reference to a record that isn't shown. What is there
stays there: a free text becomes the word `withheld`, a file a file that says that it is withheld.
"""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from certgen.standards import find_prohibited

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping

    from certgen.disclosure.codes import Codes
    from certgen.records.tables import Field

WITHHELD: Final = "withheld"
#: Kinds of names that codes stand for.
_NAMED: Final = ("person", "party", "laboratory", "paper", "equipment")
#: Stands for what isn't there.
_ABSENT: Final = object()


class RecordCopier:
    """Makes records anew.

    `known` are by table the identifiers of the farm's records, `shown` those of the records that are shown.
    `file` gives the name under which a file is withheld, from the name in the record.
    """

    def __init__(
        self,
        codes: Codes,
        known: Mapping[str, Collection[str]],
        shown: Mapping[str, Collection[str]],
        file: Callable[[str], str],
    ) -> None:
        self._codes, self._known, self._shown, self._file = codes, known, shown, file
        self._kinds: Mapping[str, Callable[[Field, Any], Any]] = {
            "fact": lambda _field, value: value,
            "words": self._keep_words,
            "material": self._name_material,
            "file": lambda _field, value: self._file(value),
            **{kind: partial(self._copy_name, kind) for kind in _NAMED},
        }

    def copy(self, fields: Mapping[str, Field], record: Mapping[str, Any], table: str = "") -> dict[str, Any]:
        """A mapping with the same fields, as far as they may be shown. `table` is whose record it is."""
        found = {}
        for name, value in record.items():
            field = fields.get(name)
            copied = _ABSENT if field is None else self._copy_value(field, value, table)
            if copied is not _ABSENT:
                found[name] = copied
        return found

    def _copy_value(self, field: Field, value: Any, table: str) -> Any:
        if field.kind == "mapping" and isinstance(value, dict):
            return self._copy_mapping(field, value) or _ABSENT
        if isinstance(value, (list, tuple)):
            return self._copy_list(field.item or field, value) or _ABSENT
        if field.discloses.partition(":")[0] == "code":
            return self._exchange(field, value, table)
        copy = self._kinds.get(field.discloses)
        return _ABSENT if copy is None else copy(field, value)

    def _copy_list(self, item: Field, values: Iterable[Any]) -> list[Any]:
        kept = (part for part in values if not self._leads_out(item, part))
        parts = [self._copy_value(item, part, "") for part in kept]
        found = [part for part in parts if part is not _ABSENT]
        # Codes in the order of the names they stand for would tell that order.
        return sorted(found, key=_order_of_codes) if _names_anything(item) else found

    def _copy_name(self, kind: str, _field: Field, value: Any) -> Any:
        return self._codes.code(kind, str(value))

    def _leads_out(self, field: Field, value: Any) -> bool:
        """Whether an entry of a list, such as a lot's source, names records and none of those is shown."""
        if not isinstance(value, dict):
            return False
        named = [(inner, value[name]) for name, inner in field.fields.items() if name in value]
        return any(
            self._copy_value(inner, part, "") is _ABSENT
            for inner, part in named
            if inner.refers_to or (inner.item is not None and inner.item.refers_to)
        )

    def _copy_mapping(self, field: Field, value: Mapping[str, Any]) -> dict[str, Any]:
        if field.fields:
            return self.copy(field.fields, value)
        # Names of the grower's own: only those of a declared form are known to be words out of a list.
        if field.item is None or field.discloses != "fact":
            return {}
        return {name: self._copy_value(field.item, part, "") for name, part in value.items()}

    def _exchange(self, field: Field, value: str, table: str) -> Any:
        """An identifier's code. A record that is there and isn't shown is left out."""
        _, _, named = field.discloses.partition(":")
        tables = (named,) if named else field.refers_to or (table,)
        at = next((one for one in tables if value in self._known.get(one, ())), "")
        if field.refers_to and at and value not in self._shown[at]:
            return _ABSENT
        return self._codes.code(at or tables[0], value)

    @staticmethod
    def _keep_words(field: Field, value: Any) -> Any:
        if isinstance(value, dt.date) or (field.dated and _is_day(str(value))):
            return value
        return WITHHELD

    @staticmethod
    def _name_material(_field: Field, value: str) -> str:
        found = find_prohibited(value)
        return found.name if found else WITHHELD


def _names_anything(field: Field) -> bool:
    """Whether codes stand in a list's entries."""
    kinds = {field.discloses, *(inner.discloses for inner in field.fields.values())}
    return any(kind in _NAMED or kind.partition(":")[0] == "code" for kind in kinds)


def _order_of_codes(entry: Any) -> list[tuple[str, int, str]]:
    """An entry's codes, so that `Bag-9` comes before `Bag-10`."""
    values = entry.values() if isinstance(entry, dict) else [entry]
    return [order_of_code(value) for value in values]


def order_of_code(code: object) -> tuple[str, int, str]:
    """`Bag-9` before `Bag-10`; what is no code by its letters."""
    word, _, number = str(code).rpartition("-")
    return (word, int(number), "") if number.isdigit() and len(number) < 10 else (str(code), 0, str(code))


def _is_day(text: str) -> bool:
    try:
        dt.date.fromisoformat(text)
    except ValueError:
        return False
    return True
