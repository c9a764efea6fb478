"""A packet made a second time, from nothing but the files inside it."""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from certgen.disclosure.disclosing import keep_lot, keep_lots
from certgen.manifest import NAME, REPLACED, Manifest, build_manifest
from certgen.verification.packet_files import (
    files_outside,
    lay_out,
    stated_maker,
    stated_options,
    stated_refusals,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from certgen.examination import Result
    from certgen.process_pool import Pool


@contextmanager
def reexamine(manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> Iterator[Result]:
    """The records inside, examined as of the manifest's day; their folder goes when the block ends.

    Raises `PacketError` for files that can't be laid out, `ReadFailure` for records that can't be read.
    """
    from certgen.examination import examine
    from certgen.verification.supplied import reader_inside

    with tempfile.TemporaryDirectory(prefix="certgen-verify-") as name:
        folder = lay_out(Path(name), manifest, inside)
        result = examine(
            folder,
            dt.date.fromisoformat(manifest["on"]),
            within=Path(name),
            refusals=stated_refusals(manifest),
            packets=reader_inside(),
        )
        options = stated_options(manifest)
        # What is found where the records were cut off is no part of what was told.
        if options.withholds:
            result = keep_lot(result, (options.lots or ("",))[0])
        elif options.left_out is not None:
            result = keep_lots(result, options.lots or ())
        yield replace(result, version=manifest["version"])


def rebuild_manifest(result: Result, manifest: Mapping[str, Any], inside: Mapping[str, bytes]) -> Manifest:
    """The manifest that certgen writes for these records and the options that `manifest` names."""
    return build_manifest(
        result,
        stated_maker(manifest),
        stated_options(manifest),
        replaced=inside.get(REPLACED, b""),
        outside=files_outside(manifest),
    )


def rebuild_pages(
    result: Result,
    manifest: Mapping[str, Any],
    inside: Mapping[str, bytes],
    progress: Callable[[str, int, int], None] = lambda _what, _done, _all: None,
    pool: Pool | None = None,
) -> bytes:
    """The packet that certgen makes of these records, under the fingerprint of the manifest inside.

    `pool` are the processes that help to set it (None: another, where there are two cores). Raises ValueError
    and KeyError for options that no packet has, ManifestError for files that the manifest doesn't name.
    """
    from certgen.report.writing import compose_pdf

    given = Manifest(manifest, inside.get(REPLACED, b""))
    # To the byte as it came, so that a page's foot is compared and not what stands for it.
    vars(given)["text"] = inside[NAME]
    return compose_pdf(result, stated_options(manifest), manifest=given, pool=pool, progress=progress)


def open_rebuilding_pool(manifest: Mapping[str, Any]) -> Pool | nullcontext[None]:
    """The processes that will help to make the packet anew: they load what sets pages while its records are
    examined. None for options that no packet has, which `rebuild_pages` tells.
    """
    from certgen.typeset.design import find_sheet
    from certgen.typeset.setting_pool import open_setting_pool

    try:
        page = stated_options(manifest).page
        find_sheet(page)
    except (ValueError, KeyError):
        return nullcontext()
    return open_setting_pool(page)


def differences_in_json(then: Any, now: Any, at: str = "") -> Iterator[str]:  # parsed JSON
    """Where two manifests differ, in words: `statements.lots`, what one says and the other."""
    then, now = _by_name(then), _by_name(now)
    if isinstance(then, dict) and isinstance(now, dict):
        for key in dict.fromkeys((*then, *now)):
            yield from differences_in_json(then.get(key), now.get(key), f"{at}.{key}".lstrip("."))
    elif then != now:
        yield f"{at}: it says {_short(then)}, the records inside give {_short(now)}"


def _by_name(value: Any) -> Any:
    """A list of named things as a mapping by name; anything else, or a list with a name twice, as it is."""
    if not isinstance(value, list) or not all(isinstance(part, dict) for part in value):
        return value
    named = {str(part.get("name", part.get("lot"))): part for part in value}
    return named if value and len(named) == len(value) else value


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}…"
