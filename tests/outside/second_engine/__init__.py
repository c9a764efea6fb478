"""A second engine: the standing of every lot by gram, worked out anew from the records alone.

It reads a season's YAML with plain PyYAML, holds each record against `schemas/*.json` and the crop
profile's words, and lets a logic program (`*.lp`) say which fault touches which record and what reaches
which lot. The grams are then counted out in whole milligrams. Nothing of `certgen` is imported, so that
where both engines agree they agree for their own reasons.

    python -m second_engine FOLDER [--on DATE] [--why]
"""

from second_engine.standings import Standing, standings

__all__ = ["Standing", "standings"]
