"""The notices of a recall as paper: one to a page, a holder's with an answer to tear off and send back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from certgen.dossier.recall_notices import draft_recall
from certgen.typeset.design import SANS
from certgen.typeset.faces import families
from certgen.typeset.legibility import fit_to_set
from certgen.typeset.typst_pages import UNDATED, compile_typst

if TYPE_CHECKING:
    from certgen.dossier.recall import Recall
    from certgen.dossier.recall_notices import RecallNotice


def set_recall_notices(recall: Recall, page: str = "a4") -> bytes:
    """The notices as PDF, on A4 or Letter. Raises `SettingError` where they can't be set."""
    details = recall.result.season.details
    operation = details.operation
    contact = (details.raw.get("operation") or {}).get("contact") or ""
    data = {
        "sans": families(SANS),
        "from": [fit_to_set(text) for text in (operation.name, operation.address, str(contact)) if text],
        "under": f"Draft. {fit_to_set(operation.name)}, season {fit_to_set(details.label)}, as the records "
        f"stood on {recall.result.on.isoformat()}",
        "page": "us-letter" if page.casefold() == "letter" else "a4",
        "notices": [_lay_out(one) for one in draft_recall(recall)],
    }
    return compile_typst("recall_notices.typ", data, epoch=UNDATED)


def _lay_out(one: RecallNotice) -> dict[str, Any]:
    return {
        "number": fit_to_set(one.number),
        "party": fit_to_set(one.party),
        "contact": fit_to_set(one.contact),
        "before": [fit_to_set(text) for text in one.before],
        "heads": one.heads,
        "rows": [[fit_to_set(text) for text in row] for row in one.rows],
        "after": [fit_to_set(text) for text in one.after],
        "asks": one.asks,
        "lots": fit_to_set(", ".join(dict.fromkeys(row[0] for row in one.rows))) if one.asks else "",
    }
