"""The manual page: what the commands say of themselves, in the form that `man` reads."""

from __future__ import annotations

import re
import subprocess

import click
import pytest
from validators import need_program

from certgen import RELEASED, __version__
from certgen.cli import COMMANDS, manual
from certgen.cli.group import CERTGEN


def test_the_page_is_as_the_commands_are() -> None:
    """`make docs` writes it anew."""
    assert 0 == manual.main(["--check"])


def test_every_command_and_option_is_told() -> None:
    """Each command has its section, in which each of its options stands."""
    sections = dict(re.findall(r"(?ms)^\.SH (.+?)\n(.*?)(?=^\.SH |\Z)", manual.render_manual()))
    options = {}
    for name in COMMANDS:
        command = CERTGEN.get_command(click.Context(CERTGEN), name)
        options[name] = [
            one.opts[-1] for one in command.params if isinstance(one, click.Option) and not one.hidden
        ]

    assert {} == {
        name: missing
        for name, wanted in options.items()
        if (
            missing := [o for o in wanted if o.replace("-", "\\-") not in sections[f"CERTGEN {name.upper()}"]]
        )
    }


def test_a_stale_page_is_an_error(tmp_path, monkeypatch, capsys) -> None:
    """It is named, and what to do."""
    page = tmp_path / "certgen.1"
    monkeypatch.setattr(manual, "PAGE", page)

    assert 1 == manual.main(["--check"])
    assert "certgen.1 is stale; run make docs\n" == capsys.readouterr().err
    assert 0 == manual.main([])
    assert 0 == manual.main(["--check"])


@pytest.mark.parametrize(("text", "expected"), [("--on", r"\-\-on"), (".ci", r"\&.ci"), ("a\\b", r"a\eb")])
def test_signs_stay_signs(text: str, expected: str) -> None:
    """A hyphen that can be copied, a full stop at a line's head, a backslash."""
    assert expected == manual._escape(text)


def test_mandoc_has_nothing_against_it() -> None:
    """Not so much as a warning."""
    ran = subprocess.run(
        [need_program("mandoc"), "-T", "lint", "-W", "warning", str(manual.PAGE)],
        capture_output=True,
        text=True,
        check=False,
    )

    assert (0, "") == (ran.returncode, ran.stdout)


def test_the_changelog_begins_with_this_version_and_its_day(root) -> None:
    """The page and the list of changes name the same."""
    heads = re.findall(r"(?m)^## (.+)$", (root / "CHANGELOG.md").read_text(encoding="utf-8"))

    assert f"{__version__}, {RELEASED}" == heads[0]
    assert [] == [head for head in heads if not re.fullmatch(r"\d+\.\d+\.\d+, \d{4}-\d\d-\d\d", head)]
