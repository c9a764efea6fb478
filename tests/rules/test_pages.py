from __future__ import annotations

from certgen.rules import RULES, pages


def test_there_is_a_page_a_rule_and_a_list():
    """Each says why, what mends it and what it rests on."""
    written = {path.parent.name: text for path, text in pages.render_pages().items()}

    assert {*RULES, "examples"} == set(written)
    for slug, one in RULES.items():
        assert one.why in written[slug]
        assert one.remedy in written[slug]
        assert f"[{slug}]" in written["examples"]


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
