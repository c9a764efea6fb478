"""Writes a page for each rule, out of the rule and its two seasons: `python -m certgen.rules.pages`.

The pages stand beside the examples (`examples/<slug>/README.md`), with a list of them all above. With
`--check` nothing is written, and a page that is missing or stale is an error.
"""

from __future__ import annotations

import sys
from itertools import groupby
from typing import TYPE_CHECKING

from certgen.rules import RULES
from certgen.rules.example_seasons import EXAMPLES, load_example
from certgen.rules.obligations import TITLE, render_meaning

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from certgen.rules.registry import Rule

_HEAD = "<!-- Written by `make docs`. Change the rule or its examples instead. -->"
_WEIGHTS = {
    "rejects": "A record speaks against the claim. No paperwork mends it; taking the part out does.",
    "unproven": "Evidence that the claim needs is missing. More evidence can mend it.",
    "advice": "Outside usual practice, or something that no lot's claim rests on.",
}


def tell_clause(key: str) -> str:
    """A clause with its title, what it asks and how sure we are of its text."""
    from certgen.standards import PROFILES, clause_of, load_profile

    profiles = [load_profile(name) for name in PROFILES]
    holds = [one for one in profiles if key.removeprefix("practice:") in one.practice]
    clause = clause_of(key, holds[0] if key.startswith("practice:") else None)
    return f"{key}: {clause.title}. {clause.asks} ({clause.mark})"


def _say_packed(rule: Rule) -> str:
    """What mends it when the seed is packed, if that is something else."""
    return f"\n\nWhere the seed is in a lot already: {rule.packed}" if rule.packed else ""


def render_page(rule: Rule) -> str:
    """The page of one rule, as Markdown."""
    clauses = "\n".join(f"- {tell_clause(clause)}" for clause in rule.clauses)
    after = ", ".join(f"[`{slug}`](../{slug}/README.md)" for slug in rule.after)
    skipped = f"\nRecords that {after} found fault with are passed over.\n" if after else ""
    bad, good = (load_example(rule.slug, kind).text.rstrip() for kind in ("bad", "good"))
    laid = "Laid over the [base season](../base.yaml); the mark says where the gap stands."
    if "\n# without: " in bad:
        laid += " What `without` names is left out of the base."
    if "previous: ../earlier" in bad:
        laid += f" The season before is [this one](../before.yaml){_laid_over_before(rule)}."
    return f"""{_HEAD}

# {rule.slug}

**{rule.weight}**: {_WEIGHTS[rule.weight]}

{rule.why}
{skipped}
## What mends it

{rule.remedy}{_say_packed(rule)}

## The rule behind it

{clauses}

## A season with the gap

{laid}

```yaml
{bad}
```

## The same without it

```yaml
{good}
```
"""


def _laid_over_before(rule: Rule) -> str:
    own = (EXAMPLES / rule.slug / "earlier.yaml").exists()
    return " with [what is changed in it](earlier.yaml)" if own else ""


def render_list() -> str:
    """The list of all rules, by stage of the job."""
    parts = [f"{_HEAD}\n\n# What is checked\n"]
    parts += [f"- **{weight}**: {told}" for weight, told in _WEIGHTS.items()]
    parts.append(f"\nWhat all of it is for: [{TITLE}](traced.md).")
    parts.append("\nWhere no lot rests on the record, a gap that would reject or leave unproven is advice.")
    for stage, rules in groupby(RULES.values(), key=lambda rule: rule.stage):
        parts.append(f"\n## {stage.capitalize()}\n\n| rule | weight | |\n|---|---|---|")
        parts += [
            f"| [{rule.slug}]({rule.slug}/README.md) | {rule.weight} | {rule.title} |" for rule in rules
        ]
    return "\n".join(parts) + "\n"


def render_pages() -> dict[Path, str]:
    """Every generated page by its path."""
    pages = {EXAMPLES / rule.slug / "README.md": render_page(rule) for rule in RULES.values()}
    meaning = f"{_HEAD}\n\n{render_meaning()}"
    return {EXAMPLES / "README.md": render_list(), EXAMPLES / "traced.md": meaning, **pages}


def main(arguments: Sequence[str]) -> int:
    """Writes the pages, or with `--check` names those that are stale. Returns the exit code."""
    unknown = set(arguments) - {"--check", "--write"}
    if unknown:
        print(f"unknown: {' '.join(sorted(unknown))}. Use --check or nothing.", file=sys.stderr)
        return 2
    pages = render_pages()
    stale = [
        path for path, text in pages.items() if not path.exists() or path.read_text(encoding="utf-8") != text
    ]
    if "--check" in arguments:
        for path in stale:
            print(f"{path.relative_to(EXAMPLES.parent)} is stale: run `make docs`", file=sys.stderr)
        return int(bool(stale))
    for path in stale:
        path.write_text(pages[path], encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
