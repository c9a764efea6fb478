"""The card of a small season's one lot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from printed_packets import ON, write_line

from certgen.examination import examine
from certgen.exchange.lot_card.facts import gather_facts
from certgen.report.packet import find_maker

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="session")
def card(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What it says, beside a packet that nobody made."""
    folder: Path = write_line(tmp_path_factory.mktemp("line"))
    result = examine(folder, ON)
    return gather_facts(result, "L1", "0123456789abcdef" * 4, find_maker(result))
