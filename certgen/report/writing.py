"""The writers: a result in, a file's bytes out. Who asked for it puts it where it is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from certgen.manifest import PacketOptions, build_manifest
from certgen.report.packet import build_packet, find_maker, settings_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from certgen.examination import Result
    from certgen.manifest import Manifest


def compose_pdf(
    result: Result,
    options: PacketOptions | None = None,
    *,
    manifest: Manifest | None = None,
    jobs: int | None = None,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet as a PDF. The same result, options, manifest and libraries give the same bytes.

    `options` and `manifest` are as in `build_packet`; `jobs` is how many processes set it (None: two, where
    there are two cores). Raises what `build_packet` raises.
    """
    from certgen.process_pool import Pool, count_cores
    from certgen.typeset.compose import ChapterQueue, compose, load_engines

    chosen = options or PacketOptions()
    settings = settings_of(result, chosen.page)
    # Another process loads what sets pages, and sets the first of them, while the packet is built here.
    with Pool((jobs or min(2, count_cores())) - 1, load_engines) as pool:
        chapters = ChapterQueue(pool, settings)
        packet = build_packet(
            result,
            chosen,
            manifest=manifest,
            ready=chapters.start if pool.is_several else lambda _chapter: None,
        )
        return compose(packet, settings, chapters=chapters, progress=progress)


def set_pdf(
    result: Result,
    options: PacketOptions | None = None,
    *,
    replaced: bytes = b"",
    jobs: int | None = None,
    sign: Callable[[bytes], bytes] = lambda data: data,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet as PDF, as it is to be written.

    `replaced` is the manifest of the packet that this one takes the place of. `sign` is given the finished
    bytes and gives back those to write; the others are as in `compose_pdf`. Raises what `build_packet`
    raises.
    """
    manifest = build_manifest(result, find_maker(result), options, replaced=replaced)
    return sign(compose_pdf(result, options, manifest=manifest, jobs=jobs, progress=progress))


def set_html(result: Result, options: PacketOptions | None = None) -> bytes:
    """The binder as one HTML file; for anybody but the certifier the packet's own pages as one.

    Of a result that was cut down to some lots' line it is the binder of that line.
    """
    if options is not None and options.withholds:
        from certgen.report.lot_page import compose_lot_page

        return compose_lot_page(result, options).encode()
    from certgen.report.binder import compose_html

    return compose_html(result).encode()
