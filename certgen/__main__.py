"""Lets `python -m certgen` do what the `certgen` command does."""

from __future__ import annotations

from certgen.cli import main

if __name__ == "__main__":
    main()
