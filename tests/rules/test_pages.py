from __future__ import annotations

import pytest

from certgen.rules import RULES, pages
from certgen.rules.example_seasons import EXAMPLES

COVERS = ("certgen.rules.obligations",)


def test_there_is_a_page_a_rule_and_a_list():
    """Each says why, what mends it and what it rests on; beside them is the page on what traced means."""
    written = {path.relative_to(EXAMPLES).as_posix(): text for path, text in pages.render_pages().items()}

    assert {*(f"{slug}/README.md" for slug in RULES), "README.md", "traced.md"} == set(written)
    for slug, one in RULES.items():
        assert one.why in written[f"{slug}/README.md"]
        assert one.remedy in written[f"{slug}/README.md"]
        assert f"[{slug}]" in written["README.md"]


@pytest.mark.parametrize(
    ("slug", "without", "before"),
    [
        ("bag-unwatched", False, None),
        ("lot-without-source", True, None),
        ("season-before-of-another", False, " with [what is changed in it](earlier.yaml)."),
        ("lot-number-reused", False, "."),
    ],
)
def test_a_page_says_what_its_example_is_laid_over(slug, without, before):
    """What is left out of the base, and what stands in the season before."""
    text = pages.render_page(RULES[slug])
    (laid,) = [line for line in text.splitlines() if line.startswith("Laid over")]

    assert without == ("left out of the base" in laid)
    assert (before is not None) == ("The season before" in laid)
    assert before is None or laid.endswith(f"[this one](../before.yaml){before}")


def test_the_pages_are_fresh(capsys):
    """`make docs` writes them; a stale one is an error that says so."""
    assert 0 == pages.main(["--check"])
    assert "" == capsys.readouterr().err


def test_a_stale_page_is_named_and_written(tmp_path, monkeypatch, capsys):
    """Checking changes nothing; writing mends it."""
    page = tmp_path / "examples" / "README.md"
    page.parent.mkdir()
    monkeypatch.setattr(pages, "EXAMPLES", page.parent)
    monkeypatch.setattr(pages, "render_pages", lambda: {page: "fresh\n"})

    assert 1 == pages.main(["--check"])
    assert "README.md is stale" in capsys.readouterr().err
    assert not page.exists()
    assert 0 == pages.main([])
    assert "fresh\n" == page.read_text()
    assert 0 == pages.main(["--check"])
    assert 2 == pages.main(["--chekc"])
