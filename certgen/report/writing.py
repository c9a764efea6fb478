"""The writers: a result in, a file's bytes out. Who asked for it puts it where it is wanted."""

from __future__ import annotations

from contextlib import ExitStack
from typing import TYPE_CHECKING

from certgen.collector import pause_collector
from certgen.manifest import PacketOptions, build_manifest
from certgen.report.packet import build_packet, find_maker, settings_of
from certgen.typeset.setting_pool import open_setting_pool

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from certgen.examination import Result
    from certgen.manifest import Manifest
    from certgen.process_pool import Pool, Promised
    from certgen.typeset.parts import RegisterSet
    from certgen.typeset.registers import SetBatch


@pause_collector()
def compose_pdf(
    result: Result,
    options: PacketOptions | None = None,
    *,
    manifest: Manifest | None = None,
    pool: Pool | None = None,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet as a PDF. The same result, options, manifest and libraries give the same bytes.

    `options` and `manifest` are as in `build_packet`; `pool` are the processes that help to set it (None:
    another, where there are two cores). Raises what `build_packet` raises.
    """
    from certgen.typeset.compose import compose
    from certgen.typeset.shared_setting import begin_registers

    chosen = options or PacketOptions()
    settings = settings_of(result, chosen.page)
    with ExitStack() as stack:
        helping = pool or stack.enter_context(open_setting_pool(chosen.page))
        begun: list[Promised[SetBatch]] = []

        def begin(registers: RegisterSet, names: Iterable[str]) -> None:
            begun.extend(begin_registers(registers, names, settings, helping))

        packet = build_packet(result, chosen, manifest=manifest, begin=begin)
        return compose(packet, settings, pool=helping, begun=begun, progress=progress)


def set_pdf(
    result: Result,
    options: PacketOptions | None = None,
    *,
    replaced: bytes = b"",
    pool: Pool | None = None,
    sign: Callable[[bytes], bytes] = lambda data: data,
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
) -> bytes:
    """The packet as PDF, as it is to be written.

    `replaced` is the manifest of the packet that this one takes the place of. `sign` is given the finished
    bytes and gives back those to write; the others are as in `compose_pdf`. Raises what `build_packet`
    raises.
    """
    manifest = build_manifest(result, find_maker(result), options, replaced=replaced)
    return sign(compose_pdf(result, options, manifest=manifest, pool=pool, progress=progress))


def set_html(result: Result, options: PacketOptions | None = None) -> bytes:
    """The binder as one HTML file; for anybody but the certifier the packet's own pages as one.

    Of a result that was cut down to some lots' line it is the binder of that line.
    """
    if options is not None and options.withholds:
        from certgen.report.lot_page import compose_lot_page

        return compose_lot_page(result, options).encode()
    from certgen.report.binder import compose_html

    return compose_html(result).encode()
