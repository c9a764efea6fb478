"""The writers: a result in, a file's bytes out. Who asked for it puts it where it is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.report.packet import build_packet, settings_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from certgen.examination import Result
    from certgen.typeset.parts import Attachment


def set_pdf(
    result: Result,
    *,
    page: str = "A4",
    registers: str = "full",
    lots: Sequence[str] | None = None,
    attachments: Sequence[Attachment] | None = None,
    jobs: int | None = None,
    seal: Callable[[bytes], bytes] = lambda data: data,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet as PDF.

    `page` is `A4` or `Letter`; `registers`, `lots` and `attachments` are as in `build_packet`; `jobs` is how
    many processes set it (None: two, where there are two cores). `seal` is given the finished bytes and gives
    back those to write. Raises what `build_packet` raises.
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
    return seal(data)


def set_html(result: Result) -> bytes:
    """The binder as one HTML file."""
    from certgen.report.binder import compose_html

    return compose_html(result).encode()
