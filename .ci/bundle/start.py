"""What a bundle starts with: the `certgen` command, or a process that it shares its work out to."""

from __future__ import annotations

import os
from multiprocessing import freeze_support
from pathlib import Path

from certgen.cli import main

if __name__ == "__main__":
    # Where the machine has no settings for fonts, their library would complain; no font of its is used.
    os.environ["FONTCONFIG_FILE"] = str(Path(__file__).with_name("fonts.conf"))
    # A worker is this same program, called with what it is to do; it never comes back from here.
    freeze_support()
    main()
