"""The writers: a result in, a whole file out or none at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.report.packet import build_packet, settings_of
from certgen.whole_files import write_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from certgen.examination import Result
    from certgen.typeset.parts import Attachment


def write_pdf(
    result: Result,
    out: Path,
    *,
    page: str = "A4",
    registers: str = "full",
    lots: Sequence[str] | None = None,
    attachments: Sequence[Attachment] | None = None,
    jobs: int | None = None,
    seal: Callable[[bytes], bytes] = lambda data: data,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> None:
    """Write the packet as PDF to `out`.

    `page` is `A4` or `Letter`; `registers`, `lots` and `attachments` are as in `build_packet`; `jobs` is how
    many processes set it (None: two, where there are two cores). `seal` is given the finished bytes and gives
    back those to write. Raises OSError as the system gives it, and what `build_packet` raises.
    """
    from certgen.process_pool import Pool, count_cores
    from certgen.typeset.compose import ChapterQueue, compose, load_engines

    settings = settings_of(result, page)
    # The others load what sets pages, and set the first chapters, while the packet is built.
    with Pool(jobs or min(2, count_cores()), load_engines) as pool:
        chapters = ChapterQueue(pool, settings)
        packet = build_packet(
            result,
            page=page,
            registers=registers,
            lots=lots,
            attachments=attachments,
            ready=chapters.start if pool.is_several else lambda _chapter: None,
        )
        data = compose(packet, settings, chapters=chapters, progress=progress)
    write_whole(out, seal(data))


def write_html(result: Result, out: Path) -> None:
    """Write the binder as one HTML file to `out`. Raises OSError as the system gives it."""
    from certgen.report.binder import compose_html

    write_whole(out, compose_html(result).encode())
