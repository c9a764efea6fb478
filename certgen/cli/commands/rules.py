"""`certgen rules`: what is checked, how heavy a gap is, and what it rests on."""

from __future__ import annotations

from itertools import groupby

from certgen.cli.arguments import argument, choose, command
from certgen.cli.offered_names import offer_rules
from certgen.cli.terminal import COLOURS, Terminal


@command("certgen rules bag-untagged")
@argument("rule", "RULE", "A rule's name, to explain it.", required=False, shell_complete=offer_rules)
def run(rule: str | None) -> int:
    """List what is checked, or explain one rule: why it matters, what it rests on, what mends it."""
    from certgen.rules import RULES

    if rule is None:
        _list()
    else:
        choose([rule], RULES, "RULE")
        _explain(rule)
    return 0


def _list() -> None:
    from certgen.rules import RULES

    out = Terminal()
    out.text(
        "A gap that rejects speaks against the claim. An unproven one lacks evidence that can still be "
        "supplied. Advice leaves the claim as it is."
    )
    for stage, rules in groupby(RULES.values(), key=lambda rule: rule.stage):
        out.heading(stage.capitalize())
        for rule in rules:
            out.line(f"  {out.paint(rule.slug, 'bold')} · {rule.weight}")
            out.text(rule.title, 4)


def _explain(slug: str) -> None:
    from certgen.rules import RULES
    from certgen.rules.example_seasons import load_example
    from certgen.rules.pages import tell_clause

    out, rule = Terminal(), RULES[slug]
    out.line(f"{out.paint(slug, 'bold')} · {out.paint(rule.weight, COLOURS[rule.weight])}")
    for paragraph in rule.why.split("\n\n"):
        out.line()
        out.text(paragraph.replace("\n", " "))
    out.heading("What mends it")
    out.text(rule.remedy, 2)
    out.heading("The rule behind it")
    for clause in rule.clauses:
        out.text(tell_clause(clause), 2)
    for kind, heading in (("bad", "A season with the gap"), ("good", "The same without it")):
        out.heading(heading)
        for line in load_example(slug, kind).text.splitlines():
            out.line(f"  {line}".rstrip())
