"""The season as EPCIS 2.0 events in JSON-LD, for those who trace goods in that form (ISO/IEC 19987).

Where the standard's vocabulary has a word it is used; picking, bagging, extraction and sowing have none, so
they bear URIs of our own. Records hold days and no hours: each event stands at the first moment of its day,
in the offset given, and says that only the day is known. What is written follows the ratified 2.0.1 form.

Where something happened is the block of the trees in it, or the operation's premises. From whom to whom goods
went is told of a movement whose record names the other party.
"""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from certgen.exchange.spreadsheets.rows import records_of
from certgen.records.names import VOCABULARY

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from certgen.examination import Result
    from certgen.records.names import Names

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
#: Movements in which goods pass between the operation and a party: whether they come in, and what passes.
_PASSING: Final[Mapping[str, tuple[bool, str]]] = {
    "received": (True, "owning_party"),
    "returned": (True, "owning_party"),
    "sold": (False, "owning_party"),
    "transferred": (False, "possessing_party"),
    "sampled": (False, "possessing_party"),
}
_RESULTS: Final = {"negative": "conformant", "positive": "non_conformant"}


def build_epcis(result: Result, names: Names, *, offset: str = "+00:00") -> dict[str, Any]:
    """An EPCIS document of all events, in the order of their days.

    Raises `ValueError` for an offset that is none.
    """
    if not re.fullmatch(r"[+-](0[0-9]|1[0-3]):[0-5][0-9]|[+-]14:00", offset):
        raise ValueError(f"'{offset}' is no offset from universal time; write it like -10:00")
    writer = _Writer(result, names, offset)
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
        self.result = result
        self.season = result.season
        self.names = names
        self.offset = offset
        self.certificate = result.season.details.operation.certificate
        self.premises = {"id": names.address(names.place())}
        self.plantings = {record["planting"]: record for record in reversed(self._records("plantings"))}
        #: Of each tree of the farm its block, where the records lead to one.
        trees = result.case.trees
        self.blocks: dict[str, str] = {
            tree: block
            for tree, block in zip(trees["tree"].tolist(), trees["block"].tolist(), strict=True)
            if isinstance(block, str)
        }

    def events(self) -> Iterator[Event]:
        yield from self._trees()
        yield from self._screening()
        yield from self._bagging()
        yield from self._harvests()
        yield from self._batches()
        yield from self._lots()
        yield from self._tests()
        yield from self._movements()

    def _records(self, table: str) -> list[dict[str, Any]]:
        return records_of(self.season, table)

    def _name(self, table: str, identifier: str) -> str:
        return self.names.address(self.names.of(table, identifier))

    def _block(self, trees: Iterable[str]) -> dict[str, str] | None:
        """The block that some trees stand in, if it is one."""
        found = {self.blocks.get(tree) for tree in trees}
        block = found.pop() if len(found) == 1 else None
        return {"id": self._name("blocks", block)} if block else None

    def _event(self, kind: str, record: tuple[str, ...], day: object, step: str, **fields: object) -> Event:
        """The event of a record: its table and number, and how the event's name ends where it has two."""
        event: Event = {
            "type": kind,
            "eventID": self.names.address(self.names.event(*record)),
            "eventTime": f"{day}T00:00:00.000{self.offset}",
            "eventTimeZoneOffset": self.offset,
        }
        event |= {key: value for key, value in fields.items() if value not in (None, "", [], {})}
        event["bizStep"] = step
        if self.certificate:
            event["certificationInfo"] = self.names.address(self.names.certificate(self.certificate))
        event["certgen:dayOnly"] = True
        return event

    def _quantity(self, table: str, identifier: str, weight_mg: int | None) -> dict[str, Any]:
        element: dict[str, Any] = {"epcClass": self._name(table, identifier)}
        if weight_mg is not None:
            element |= {"quantity": _grams(weight_mg), "uom": "GRM"}
        return element

    def _mass(self, table: str, row: int, column: str) -> int | None:
        series = self.season.tables[table][column]
        return None if series.isna().iat[row] else int(str(series.iat[row]))

    def _trees(self) -> Iterator[Event]:
        for record in self._records("trees"):
            tree, planting = record["tree"], self.plantings.get(record["planting"])
            uri, block = self._name("trees", tree), self._block([tree])
            if planting is not None:
                yield self._event(
                    "ObjectEvent", ("trees", tree), planting["planted"], "commissioning",
                    action="ADD", epcList=[uri], disposition="active", readPoint=block, bizLocation=block,
                    ilmd={
                        "certgen:variety": planting["variety"],
                        "certgen:planting": self._name("plantings", planting["planting"]),
                    },
                )  # fmt: skip
            if "removed" in record:
                yield self._event(
                    "ObjectEvent", ("trees", tree, "removal"), record["removed"], "destroying",
                    action="DELETE", epcList=[uri], disposition="destroyed", readPoint=block,
                )  # fmt: skip

    def _screening(self) -> Iterator[Event]:
        for record in self._records("screening"):
            sample = ("screening", record["sample"])
            trees = [record["tree"]] if "tree" in record else list(record.get("trees", ()))
            if trees:
                block = self._block(trees)
                yield self._event(
                    "ObjectEvent", sample, record["collected"], "inspecting",
                    action="OBSERVE", epcList=[self._name("trees", tree) for tree in trees],
                    disposition=_RESULTS.get(record.get("result", ""), ""),
                    readPoint=block, bizLocation=block,
                    bizTransactionList=self._documents("testres", "reports", record.get("report"), sample),
                )  # fmt: skip

    def _bagging(self) -> Iterator[Event]:
        for record in self._records("bagging"):
            block = self._block([record["tree"]])
            yield self._event(
                "AssociationEvent", ("bagging", record["bag"]), record["covered"], f"{VOCABULARY}bagging",
                action="ADD", parentID=self._name("trees", record["tree"]),
                childEPCs=[self._name("bagging", record["bag"])], readPoint=block, bizLocation=block,
            )  # fmt: skip

    def _harvests(self) -> Iterator[Event]:
        bags = self.result.case.bags
        tree_of = dict(zip(bags["bag"].tolist(), bags["tree"].tolist(), strict=True))
        for row, record in enumerate(self._records("harvests")):
            mass = self._mass("harvests", row, "weight_mg")
            fruit = self._quantity("harvests", record["harvest"], mass)
            if mass is None:
                fruit["quantity"] = record["fruits"]  # a count has no unit
            sources = [self._name("bagging", bag) for bag in record.get("bags", ())]
            sources += [self._name("trees", tree) for tree in record.get("trees", ())]
            trees = [*(tree_of.get(bag, "") for bag in record.get("bags", ())), *record.get("trees", ())]
            place = {"readPoint": self._block(trees), "bizLocation": self.premises}
            made, step = ("harvests", record["harvest"]), f"{VOCABULARY}picking"
            ilmd = {"certgen:fruits": record["fruits"], "certgen:status": record["status"]}
            if sources:
                yield self._event(
                    "TransformationEvent", made, record["date"], step,
                    inputEPCList=sources, outputQuantityList=[fruit], ilmd=ilmd, **place,
                )  # fmt: skip
            else:
                yield self._event(
                    "ObjectEvent", made, record["date"], step, action="ADD", quantityList=[fruit], ilmd=ilmd,
                    **place,
                )  # fmt: skip

    def _batches(self) -> Iterator[Event]:
        for row, record in enumerate(self._records("batches")):
            seed = self._quantity("batches", record["batch"], self._mass("batches", row, "dry_weight_mg"))
            inputs = [self._quantity("harvests", harvest, None) for harvest in record.get("harvests", ())]
            made = ("batches", record["batch"])
            yield self._made(made, record["date"], f"{VOCABULARY}extraction", inputs, seed, record)

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
            made = ("lots", record["lot"])
            yield self._made(made, record["packed"], "commissioning", inputs, seed, record)

    def _made(
        self,
        made: tuple[str, str],
        day: object,
        step: str,
        inputs: Sequence[object],
        output: object,
        record: Mapping[str, Any],
    ) -> Event:
        """Goods made of goods; without a record of what went in, they only come into being."""
        kept = record.get("storage")
        place = {
            "readPoint": self.premises,
            "bizLocation": {"id": self.names.address(self.names.place(kept))} if kept else self.premises,
        }
        ilmd = {f"certgen:{key}": record[key] for key in ("variety", "status", "generation") if key in record}
        if inputs:
            return self._event(
                "TransformationEvent", made, day, step,
                inputQuantityList=list(inputs), outputQuantityList=[output], ilmd=ilmd, **place,
            )  # fmt: skip
        return self._event(
            "ObjectEvent", made, day, step, action="ADD", quantityList=[output], ilmd=ilmd, **place
        )

    def _tests(self) -> Iterator[Event]:
        for record in self._records("tests"):
            test = ("tests", record["test"])
            yield self._event(
                "ObjectEvent", test, record["date"], "sampling", action="OBSERVE",
                quantityList=[self._quantity("lots", record["lot"], None)],
                bizTransactionList=self._documents(
                    "testres", "reports", record.get("report", record["test"]), test
                ),
            )  # fmt: skip

    def _movements(self) -> Iterator[Event]:
        for row, record in enumerate(self._records("movements")):
            step, disposition, action = _MOVEMENTS[record["kind"]]
            moved = ("movements", record["movement"])
            mass = self._mass("movements", row, "weight_mg")
            kind = "inv" if record["kind"] == "sold" else "desadv" if step == "shipping" else "recadv"
            documents = (
                self._documents(kind, "documents", record.get("document"), moved)
                if step in {"shipping", "receiving"}
                else []
            )
            yield self._event(
                "ObjectEvent", moved, record["date"], step, action=action,
                quantityList=[self._quantity("lots", record["lot"], mass)],
                disposition=disposition, bizTransactionList=documents, **self._tell_passing(record),
            )  # fmt: skip

    def _tell_passing(self, record: Mapping[str, Any]) -> dict[str, Any]:
        """Where a movement was seen, where the goods are after it, and from whom to whom they went."""
        kind, party = record["kind"], record.get("party")
        told: dict[str, Any] = {"readPoint": self._find_sowing(record) or self.premises}
        coming, passed = _PASSING.get(kind, (True, ""))
        if coming and kind not in {"sown", "discarded"}:
            told["bizLocation"] = self.premises
        if passed and party:
            here = self.names.address(self.names.operation())
            there = self.names.address(self.names.party(party))
            source, destination = (there, here) if coming else (here, there)
            told["sourceList"] = [{"type": passed, "source": source}]
            told["destinationList"] = [{"type": passed, "destination": destination}]
        if party:
            told["certgen:party"] = party
        return told

    def _find_sowing(self, record: Mapping[str, Any]) -> dict[str, str] | None:
        """The block in which seed that was sown stands as a planting, where the season tells it."""
        planting = self.plantings.get(record.get("planting"))
        return {"id": self._name("blocks", planting["block"])} if planting else None

    def _documents(
        self, kind: str, papers: str, number: object, record: tuple[str, str]
    ) -> list[dict[str, str]]:
        if not number:
            return []
        return [
            {
                "type": kind,
                "bizTransaction": self.names.address(self.names.paper(papers, str(number), *record)),
            }
        ]


def _grams(weight_mg: int) -> int | float:
    value = Decimal(weight_mg) / 1000
    return int(value) if value == value.to_integral_value() else float(value)
