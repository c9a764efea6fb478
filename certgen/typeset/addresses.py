"""Where a link leads: to an anchor, to an attached file, or to a picture that a part carries in itself.

A `href` is an anchor, or the name of an attached file, as the manifest has it:
`evidence/letters/bf-26-0031.txt`,
`records/trees.yaml`, `previous-1/evidence/…` for what lies in an earlier season's folder. In the PDF such a
place wears a paper clip and opens the file itself; in the binder it leads to the file's entry. No table is
called `evidence`, `records` or `previous-…`, so no anchor is taken for a file. Who builds parts gives such a
`href` for files only that travel inside the document (`Context.paper`); any other becomes plain text.
"""

from __future__ import annotations

from typing import Final

#: How a link to an anchor is written for an engine, since none knows the pages of another. Templates write
#: it too.
SCHEME: Final = "packet:"
#: How the name of an attached file begins. The style sheet knows these too.
FILE_NAMES: Final = ("evidence/", "records/", "previous-")
#: How the address of a picture begins that a part carries in itself.
PICTURE_ADDRESSES: Final = ("data:image/png;base64,", "data:image/jpeg;base64,")


def opens_file(href: str) -> bool:
    """Whether a `href` is the name of an attached file, and no anchor."""
    return href.startswith(FILE_NAMES)
