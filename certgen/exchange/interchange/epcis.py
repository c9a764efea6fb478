"""The season as EPCIS 2.0 events in JSON-LD, for those who trace goods in that form (ISO/IEC 19987).

Where the standard's vocabulary has a word it is used; picking, bagging, extraction and sowing have none, so
they bear URIs of our own. Records hold days and no hours: each event stands at the first moment of its day,
in the offset given, and says that only the day is known. What is written follows the ratified 2.0.1 form.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.interchange.identifiers import DEFAULT_BASE, VOCABULARY, Names, check_base
from certgen.exchange.spreadsheets.rows import records_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from certgen.examination import Result

CONTEXT: Final = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
Event = dict[str, Any]

#: A movement's step, disposition and action. `OBSERVE`: the goods go on; `DELETE`: they are no more.
_MOVEMENTS: Final[Mapping[str, tuple[str, str, str]]] = {
    "opening stock": ("storing", "active", "OBSERVE"),
    "received": ("receiving", "in_progress", "OBSERVE"),
    "returned": ("receiving", "returned", "OBSERVE"),
    "sold": ("shipping", "in_transit", "OBSERVE"),
    "transferred": ("shipping", "in_transit", "OBSERVE"),
    "sown": (f"{VOCABULARY}sowing", "", "DELETE"),
    "sampled": ("sampling", "", "OBSERVE"),
    "retained": ("storing", "unavailable", "OBSERVE"),
    "discarded": ("destroying", "destroyed", "DELETE"),
    "downgraded": ("inspecting", "non_conformant", "OBSERVE"),
    "counted": ("stock_taking", "", "OBSERVE"),
}
_RESULTS: Final = {"negative": "conformant", "positive": "non_conformant"}


def build_epcis(result: Result, *, base: str = DEFAULT_BASE, offset: str = "+00:00") -> dict[str, Any]:
    """An EPCIS document of all events, in the order of their days.

    Raises `ValueError` for an offset or base that is none.
    """
    if not re.fullmatch(r"[+-](0[0-9]|1[0-3]):[0-5][0-9]|[+-]14:00", offset):
        raise ValueError(f"'{offset}' is no offset from universal time; write it like -10:00")
    writer = _Writer(result, Names(check_base(base), result.season.details.label), offset)
    events = sorted(writer.events(), key=lambda event: (event["eventTime"], event["eventID"]))
    return {
        "@context": [CONTEXT, {"certgen": VOCABULARY}],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": f"{result.on.isoformat()}T00:00:00.000Z",
        "epcisBody": {"eventList": events},
    }


class _Writer:
    def __init__(self, result: Result, names: Names, offset: str) -> None:
        self.season = result.season
        self.names = names
        self.offset = offset
        self.certificate = result.season.details.operation.certificate

    def events(self) -> Iterator[Event]:
        yield from self._trees()
        yield from self._screening()
        yield from self._bagging()
        yield from self._harvests()
        yield from self._batches()
        yield from self._lots()
        yield from self._tests()
        yield from self._movements()

    def _records(self, table: str) -> Iterator[dict[str, Any]]:
        yield from records_of(self.season, table)

    def _event(self, kind: str, name: str, day: object, step: str, **fields: object) -> Event:
        event: Event = {
            "type": kind,
            "eventID": f"{self.names.of('event', name)}",
            "eventTime": f"{day}T00:00:00.000{self.offset}",
            "eventTimeZoneOffset": self.offset,
        }
        event |= {key: value for key, value in fields.items() if value not in (None, "", [], {})}
        event["bizStep"] = step
        if self.certificate:
            event["certificationInfo"] = self.names.of("certificates", self.certificate)
        event["certgen:dayOnly"] = True
        return event

    def _quantity(
        self, table: str, identifier: str, weight_mg: int | None, season: str = ""
    ) -> dict[str, Any]:
        element: dict[str, Any] = {"epcClass": self.names.of(table, identifier, season)}
        if weight_mg is not None:
            element |= {"quantity": _grams(weight_mg), "uom": "GRM"}
        return element

    def _mass(self, table: str, row: int, column: str) -> int | None:
        series = self.season.tables[table][column]
        return None if series.isna().iat[row] else int(str(series.iat[row]))

    def _trees(self) -> Iterator[Event]:
        plantings = {record["planting"]: record for record in self._records("plantings")}
        for record in self._records("trees"):
            tree, planting = record["tree"], plantings.get(record["planting"])
            uri = self.names.of("trees", tree)
            if planting is not None:
                yield self._event(
                    "ObjectEvent", f"tree {tree}", planting["planted"], "commissioning",
                    action="ADD", epcList=[uri], disposition="active",
                    ilmd={
                        "certgen:variety": planting["variety"],
                        "certgen:planting": self.names.of("plantings", planting["planting"]),
                    },
                )  # fmt: skip
            if "removed" in record:
                yield self._event(
                    "ObjectEvent", f"tree {tree} removed", record["removed"], "destroying",
                    action="DELETE", epcList=[uri], disposition="destroyed",
                )  # fmt: skip

    def _screening(self) -> Iterator[Event]:
        for record in self._records("screening"):
            trees = [record["tree"]] if "tree" in record else list(record.get("trees", ()))
            if trees:
                yield self._event(
                    "ObjectEvent", f"sample {record['sample']}", record["collected"], "inspecting",
                    action="OBSERVE", epcList=[self.names.of("trees", tree) for tree in trees],
                    disposition=_RESULTS.get(record.get("result", ""), ""),
                    bizTransactionList=self._documents("testres", "reports", record.get("report")),
                )  # fmt: skip

    def _bagging(self) -> Iterator[Event]:
        for record in self._records("bagging"):
            yield self._event(
                "AssociationEvent", f"bag {record['bag']}", record["covered"], f"{VOCABULARY}bagging",
                action="ADD", parentID=self.names.of("trees", record["tree"]),
                childEPCs=[self.names.of("bagging", record["bag"])],
            )  # fmt: skip

    def _harvests(self) -> Iterator[Event]:
        for row, record in enumerate(self._records("harvests")):
            mass = self._mass("harvests", row, "weight_mg")
            fruit = self._quantity("harvests", record["harvest"], mass)
            if mass is None:
                fruit["quantity"] = record["fruits"]  # a count has no unit
            sources = [self.names.of("bagging", bag) for bag in record.get("bags", ())]
            sources += [self.names.of("trees", tree) for tree in record.get("trees", ())]
            name, step = f"harvest {record['harvest']}", f"{VOCABULARY}picking"
            ilmd = {"certgen:fruits": record["fruits"], "certgen:status": record["status"]}
            if sources:
                yield self._event(
                    "TransformationEvent", name, record["date"], step,
                    inputEPCList=sources, outputQuantityList=[fruit], ilmd=ilmd,
                )  # fmt: skip
            else:
                yield self._event(
                    "ObjectEvent", name, record["date"], step, action="ADD", quantityList=[fruit], ilmd=ilmd
                )

    def _batches(self) -> Iterator[Event]:
        for row, record in enumerate(self._records("batches")):
            seed = self._quantity("batches", record["batch"], self._mass("batches", row, "dry_weight_mg"))
            inputs = [self._quantity("harvests", harvest, None) for harvest in record.get("harvests", ())]
            yield self._made(
                f"batch {record['batch']}", record["date"], f"{VOCABULARY}extraction", inputs, seed, record
            )

    def _lots(self) -> Iterator[Event]:
        sources: list[tuple[dict[str, Any], ...]] = self.season.tables["lots"]["sources"].tolist()
        for row, record in enumerate(self._records("lots")):
            seed = self._quantity("lots", record["lot"], self._mass("lots", row, "weight_mg"))
            inputs = []
            for source in sources[row]:
                table, name = (
                    ("lots", source.get("lot")) if "lot" in source else ("batches", source.get("batch"))
                )
                if name:
                    inputs.append(self._quantity(table, name, source.get("weight_mg")))
            yield self._made(f"lot {record['lot']}", record["packed"], "commissioning", inputs, seed, record)

    def _made(
        self,
        name: str,
        day: object,
        step: str,
        inputs: Sequence[object],
        output: object,
        record: Mapping[str, Any],
    ) -> Event:
        """Goods made of goods; without a record of what went in, they only come into being."""
        ilmd = {f"certgen:{key}": record[key] for key in ("variety", "status", "generation") if key in record}
        if inputs:
            return self._event(
                "TransformationEvent", name, day, step,
                inputQuantityList=list(inputs), outputQuantityList=[output], ilmd=ilmd,
            )  # fmt: skip
        return self._event("ObjectEvent", name, day, step, action="ADD", quantityList=[output], ilmd=ilmd)

    def _tests(self) -> Iterator[Event]:
        for record in self._records("tests"):
            yield self._event(
                "ObjectEvent", f"test {record['test']}", record["date"], "sampling", action="OBSERVE",
                quantityList=[self._quantity("lots", record["lot"], None)],
                bizTransactionList=self._documents(
                    "testres", "reports", record.get("report", record["test"])
                ),
            )  # fmt: skip

    def _movements(self) -> Iterator[Event]:
        for row, record in enumerate(self._records("movements")):
            step, disposition, action = _MOVEMENTS[record["kind"]]
            mass = self._mass("movements", row, "weight_mg")
            kind = "inv" if record["kind"] == "sold" else "desadv" if step == "shipping" else "recadv"
            documents = (
                self._documents(kind, "documents", record.get("document"))
                if step in {"shipping", "receiving"}
                else []
            )
            yield self._event(
                "ObjectEvent", f"movement {record['movement']}", record["date"], step, action=action,
                quantityList=[self._quantity("lots", record["lot"], mass)],
                disposition=disposition, bizTransactionList=documents,
            )  # fmt: skip

    def _documents(self, kind: str, table: str, number: object) -> list[dict[str, str]]:
        return [{"type": kind, "bizTransaction": self.names.of(table, str(number))}] if number else []


def _grams(weight_mg: int) -> int | float:
    value = Decimal(weight_mg) / 1000
    return int(value) if value == value.to_integral_value() else float(value)
