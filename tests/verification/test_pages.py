"""Pages of the same version are compared to the byte; of another, as far as a reader sees them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pikepdf
import pytest
from printed_packets import edited, line_packet

from certgen.report import packet
from certgen.verification.verification import verify_bytes

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.examination import Result
    from certgen.manifest import Maker
    from certgen.verification.answers import Answer

COVERS = ("certgen.verification.appearance", "certgen.typeset.engines")


@pytest.fixture
def another_version(monkeypatch: pytest.MonkeyPatch) -> None:
    """What verifies here is another version than the one that made the packets."""
    made_here = packet.find_maker

    def another(result: Result) -> Maker:
        here = made_here(result)
        return replace(here, version="9.0.0", setting={**here.setting, "weasyprint": "99.0"})

    monkeypatch.setattr(packet, "find_maker", another)


def pages_of(pdf: bytes) -> Answer:
    """What is said of a packet's pages."""
    return next(one for one in verify_bytes(pdf).answers if one.subject == "Pages")


def packed_anew(pdf: bytes) -> bytes:
    """A packet whose bytes are others, as another version's would be, while it says and shows the same."""
    return edited(pdf, lambda _document: None)


def draw_over(document: pikepdf.Pdf) -> None:
    """A black bar on the second page."""
    document.pages[1].contents_add(document.make_stream(b"q 0 0 0 rg 60 400 200 40 re f Q"))


def add_script(document: pikepdf.Pdf) -> None:
    """A script that runs on opening."""
    document.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("app.beep()"))


def rename(document: pikepdf.Pdf) -> None:
    """A title that claims something."""
    document.docinfo["/Title"] = pikepdf.String("CERTIFIED")


def test_other_bytes_of_the_same_version_are_named() -> None:
    """Packed anew without any change, it isn't the file that certgen made."""
    answer = pages_of(packed_anew(line_packet()))

    assert ("fails", True) == (
        answer.verdict,
        answer.details[0].startswith("bytes that no page shows differ"),
    )


@pytest.mark.usefixtures("another_version")
def test_an_honest_packet_of_another_version_holds_as_far_as_it_can_be_told() -> None:
    """It reads and looks the same: that is said, and what wasn't compared; nothing calls it forged."""
    answer = pages_of(packed_anew(line_packet()))

    assert "holds" == answer.verdict
    assert "weasyprint" in answer.says
    assert answer.leaves.startswith("Not compared: ")


@pytest.mark.usefixtures("another_version")
def test_the_same_bytes_hold_whatever_the_version() -> None:
    """Where the other version sets the same bytes, nothing is left to compare."""
    assert "the same to the last byte" in pages_of(line_packet()).says


@pytest.mark.usefixtures("another_version")
@pytest.mark.parametrize(
    ("change", "verdict", "named"),
    [
        (draw_over, "unknown", "page 2: it reads the same and looks otherwise"),
        (rename, "unknown", "its properties name another Title"),
        (add_script, "fails", "it holds what no packet has: an action that runs on opening"),
    ],
)
def test_a_changed_packet_of_another_version_is_never_sound(
    change: Callable[[pikepdf.Pdf], None], verdict: str, named: str
) -> None:
    """What differs is named by page: unknown where a version may write otherwise, false where none does."""
    answer = pages_of(edited(line_packet(), change))

    assert (verdict, True) == (answer.verdict, named in answer.details)
