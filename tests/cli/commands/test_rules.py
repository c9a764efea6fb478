from __future__ import annotations

from certgen import cli
from certgen.rules import RULES


def test_the_list_names_every_rule(capsys):
    """The list names every rule."""
    assert 0 == cli.run(["rules"])

    shown = capsys.readouterr().out
    assert [] == [slug for slug in RULES if slug not in shown]


def test_one_rule_is_explained_with_its_clauses_and_seasons(capsys):
    """Why, what it rests on, what mends it, and a season with and without the gap."""
    assert 0 == cli.run(["rules", "bag-untagged"])

    shown = capsys.readouterr().out
    assert "us-nop:205.103(b)(2)" in shown
    assert "# gap: bag-untagged" in shown
    assert "What mends it" in shown


def test_an_unknown_rule_gets_the_nearest(capsys):
    """An unknown rule gets the nearest."""
    assert 2 == cli.run(["rules", "bag-untaged"])
    assert "bag-untagged" in capsys.readouterr().err
