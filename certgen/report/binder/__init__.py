"""The binder: one file for a browser or tablet that opens without a network and fetches nothing.

Script and style are our own, named by their hashes in the content-security policy. All records stand in the
page as escaped text, readable where no script runs; what the script knows besides is JSON, which it shows as
text. The faces are cut down to the letters in use and lie inside.
"""

from __future__ import annotations

from certgen.report.binder.page import compose_html

__all__ = ["compose_html"]
