"""What growers call columns, sheets and words (common practice), besides the records' own names for them.

Who stands under "who" or "by" is the buyer on one sheet and the writer on another, so neither is here.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Final

#: By a field's name, dotted or not.
OTHER_WORDS: Final[Mapping[str, Sequence[str]]] = {
    "id": ("no", "no.", "nr", "number", "#", "id", "code"),
    "note": ("remarks", "remark", "comment", "comments", "notes"),
    "recorded_by": ("initials", "entered by"),
    "status": ("organic status",),
    "row": ("row no", "row number"),
    "position": ("pos", "place", "place in row"),
    "covered": ("date bagged", "bagged", "bagged on", "date covered", "bagging date", "bag on"),
    "uncovered": ("bag off", "date uncovered", "unbagged"),
    "flower": ("bloom", "flower type", "flower sex"),
    "other_buds_cleared": ("buds off", "buds cleared", "other buds off"),
    "secured": ("tied", "tied shut"),
    "outcome": ("set", "set?", "fruit set", "fruit set?"),
    "collected": ("sampled", "date sampled", "sample date", "taken", "taken on"),
    "submitted": ("sent", "date sent", "sent on"),
    "reported": ("result came", "result date", "date of result", "date reported"),
    "targets": ("tested for", "looked for"),
    "packed": ("pack date", "date packed", "packed on"),
    "planted": ("date planted", "planting date", "planted on"),
    "fruits": ("fruit count", "number of fruit", "fruit"),
    "party": ("buyer", "customer", "sold to"),
    "document": ("invoice", "invoice no", "invoice number"),
    "weight": ("net weight", "mass"),
    "wet_weight": ("wet", "wet mass", "wet seed"),
    "dry_weight": ("dry", "dry mass", "dry seed"),
    "report": ("report no", "report number", "lab number", "lab letter", "letter no"),
    "laboratory": ("lab",),
    "variety": ("cultivar",),
    "date": ("day",),
    "batch": ("run", "seed run", "extraction"),
    "harvest": ("picking",),
    "harvests": ("harvest", "picking", "pickings", "from picking", "from pickings"),
    "drying.method": ("drying", "dried by"),
    "drying.from": ("dried from", "drying from", "drying began"),
    "drying.to": ("dried to", "dried until", "drying ended"),
}

#: Fields that are called so in one table only, by table and field.
TABLE_WORDS: Final[Mapping[str, Mapping[str, Sequence[str]]]] = {
    "harvests": {"date": ("picked", "picked on", "date picked")},
    "trees": {"removed": ("felled", "cut down", "taken out")},
    "lots": {"weight": ("lot weight", "lot g", "whole lot", "packed weight")},
    "movements": {"date": ("sold on", "date sold")},
}

#: Words in sheets' names, besides a table's own name.
SHEET_WORDS: Final[Mapping[str, Collection[str]]] = {
    "trees": ("tree", "orchard"),
    "plantings": ("planting",),
    "blocks": ("block", "land"),
    "screening": ("samples", "screen", "screenings", "leaf", "leaves"),
    "bagging": ("bag", "bags"),
    "harvests": ("harvest", "picking", "pickings", "picked"),
    "batches": ("batch", "extraction", "extractions", "runs"),
    "lots": ("lot", "packing"),
    "tests": ("test", "germination", "moisture"),
    "movements": ("sales", "sale", "sold", "stock", "deliveries", "movement"),
    "observations": ("observation",),
    "inputs": ("input", "sprays", "spraying"),
}

#: What a column is called that holds entries of a list inside records, by table and list.
LIST_WORDS: Final[Mapping[tuple[str, str], Collection[str]]] = {
    ("lots", "sources"): (
        "made from", "made of", "from", "out of", "source", "from runs", "from run", "from batch",
        "from batches", "runs", "batches",
    ),
    ("bagging", "checks"): ("checked", "check", "checked on", "looked at", "looks"),
}  # fmt: skip

#: And a column that holds one field of them, where the list's name and its field's don't say it.
ENTRY_WORDS: Final[Mapping[tuple[str, str, str], Collection[str]]] = {
    ("lots", "sources", "batch"): ("run", "from run", "from batch", "batch", "made from", "from"),
    ("lots", "sources", "lot"): ("from lot", "blended from"),
    ("lots", "sources", "supplier"): ("bought from", "supplier"),
    ("lots", "sources", "weight"): ("from run g", "weight from", "went in"),
    ("bagging", "checks", "date"): ("checked", "check", "checked on", "date checked", "looked at"),
    ("bagging", "checks", "condition"): ("how", "found", "condition", "bag ok", "ok", "intact"),
}

#: Abbreviations of the trade and of laboratories, and yes and no in other languages, that no word of the
#: records begins with or holds; each with what it may stand for.
SHORT_WORDS: Final[Mapping[str, Sequence[str]]] = {
    "-": ("negative",),
    "+": ("positive",),
    "-ve": ("negative",),
    "+ve": ("positive",),
    "?": ("unknown",),
    "ok": ("intact", "in order", "passed", "yes"),
    "ja": ("yes",),
    "oui": ("yes",),
    "si": ("yes",),
    "sí": ("yes",),
    "nein": ("no",),
    "non": ("no",),
    "nee": ("no",),
}
