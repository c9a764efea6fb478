"""Every command that writes a file where a person wants it keeps what lies there."""

from __future__ import annotations

import io
import shutil

import click
import pikepdf
import pytest

from certgen import cli
from certgen.cli.group import CERTGEN
from certgen.records import read_season

COVERS = ("certgen.cli.output", "certgen.cli.commands", "certgen.output_places")
ON = ["--on", "2026-11-25"]
#: Each option that names an output and the rest of its command: S is a season, C a co-op, R a packet.
WRITING = {
    ("report", "out"): ["S", "--registers", "none"],
    ("report", "html"): ["S"],
    ("card", "out"): ["S", "L1"],
    ("trace", "out"): ["S", "L1", "--format", "svg"],
    ("recall", "out"): ["S", "L1"],
    ("sample", "out"): ["S", "--records", "--seed", "rain at noon", "--size", "1"],
    ("visit", "out"): ["S", "--format", "yaml"],
    ("visit", "blank"): ["S", "--format", "yaml"],
    ("labels", "out"): ["S", "--kind", "calibration"],
    ("import", "save_map"): ["S", "F"],
    ("export", "out"): ["S", "--format", "json"],
    ("seal", "new_key"): [],
    ("seal", "out"): ["R", "--key", "K"],
    ("coop", "out"): ["C"],
}
DATED = {"report", "card", "trace", "recall", "sample", "visit", "labels", "export", "coop"}
ENDINGS = {("report", "out"): ".pdf", ("report", "html"): ".html", ("visit", "blank"): ".xlsx"}
SIGNED = b"%PDF-1.7\n/ByteRange [0 1 2 3]\n"


@pytest.fixture
def given(clean, tmp_path, root):
    """What the commands work on, by its letter."""
    key, packet, sheet = tmp_path / "key", tmp_path / "packet.pdf", tmp_path / "sheet.csv"
    assert cli.run(["seal", "--new-key", str(key)]) == 0
    blank = pikepdf.new()
    blank.add_blank_page()
    blank.docinfo["/Producer"] = pikepdf.String("certgen 0.1.0")
    out = io.BytesIO()
    blank.save(out, deterministic_id=True)
    packet.write_bytes(out.getvalue())
    sheet.write_text("Sack,Plant\n1,T1\n", encoding="utf-8")
    return {"S": clean, "C": str(root / "example_coop"), "R": str(packet), "K": str(key), "F": str(sheet)}


def arguments_for(command, name, given, out):
    """A command with an output at a place."""
    (option,) = [one for one in CERTGEN.get_command(None, command).params if one.name == name]
    words = [given.get(word, word) for word in WRITING[command, name]]
    return [command, *words, option.opts[0], str(out), *(ON if command in DATED else [])]


def lay_obstacle(what, folder, ending):
    """Something at a place, and the place."""
    places = {"record": "trees.yaml", "evidence": f"evidence/out{ending}"}
    path = folder / places.get(what, f"out{ending}")
    path.parent.mkdir(parents=True, exist_ok=True)
    if what == "link":
        (folder / "aim").write_bytes(b"mine")
        path.symlink_to(folder / "aim")
    elif what == "folder":
        path.mkdir()
    else:
        path.write_bytes(SIGNED if what == "signed" else b"mine")
    return path


def state(folder):
    """What lies below a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b""
        for path in sorted(folder.rglob("*"))
    }


def test_every_output_is_tried():
    """An option that writes a file takes --force, and is tried here; one that writes several has others."""
    forced = {
        name
        for name in cli.COMMANDS
        if any(one.name == "force" for one in CERTGEN.get_command(None, name).params)
    }
    assert {command for command, _ in WRITING} | {"new"} == forced
    outputs = {
        (name, one.name)
        for name in forced
        for one in CERTGEN.get_command(None, name).params
        if isinstance(one.type, click.Path) and one.name in {"out", "html", "save_map", "new_key", "blank"}
    }
    assert outputs == set(WRITING)


@pytest.mark.parametrize("what", ["record", "evidence", "signed", "another's", "link", "folder"])
@pytest.mark.parametrize(("command", "name"), sorted(WRITING), ids=lambda part: part)
def test_nothing_in_the_way_is_written_over(given, tmp_path, capsys, command, name, what):
    """Exit code 2, what is in the way, that nothing was written, and the way out."""
    folder = tmp_path / "place"
    ending = ENDINGS.get((command, name), "")
    if what == "record" and ending:
        pytest.skip("it writes to no name like that")
    path = lay_obstacle(what, folder, ending)
    before = state(folder)
    capsys.readouterr()
    assert cli.run(arguments_for(command, name, given, path)) == 2
    said = capsys.readouterr().err
    assert before == state(folder)
    assert f"{path} " in said
    assert "nothing was written" in said
    assert ("--force" in said) == (what not in {"link", "folder"})


@pytest.mark.parametrize("what", ["record", "evidence", "signed", "another's"])
@pytest.mark.parametrize(
    ("command", "name"), [("labels", "out"), ("sample", "out"), ("export", "out"), ("seal", "out")]
)
def test_forced_the_old_file_is_kept_and_named(given, tmp_path, capsys, command, name, what):
    """The new file stands there, the old one beside it."""
    path = lay_obstacle(what, tmp_path / "place", "")
    old = path.read_bytes()
    assert cli.run([*arguments_for(command, name, given, path), "--force"]) == 0
    kept = path.with_name(f"{path.name}.before-1")
    assert f"What was in {path} is kept in {kept}." in capsys.readouterr().err
    assert (old, True) == (kept.read_bytes(), path.read_bytes() != old)


#: What goes to standard output begins so; an export's tables, a form's record are of another kind each.
BEGINNINGS = {
    ("report", "html"): b"<!", ("visit", "blank"): b"PK", ("trace", "out"): b"<svg", ("export", "out"): b"{",
}  # fmt: skip
#: A map is shown there anyway; of a key and its certificate there are two files.
NOT_STREAMED = {("import", "save_map"), ("seal", "new_key"), ("visit", "blank")}


@pytest.mark.parametrize(("command", "name"), sorted({*WRITING} - NOT_STREAMED), ids=lambda part: part)
def test_a_file_goes_to_standard_output_alone(given, tmp_path, capfdbinary, monkeypatch, command, name):
    """`-` names it: its bytes stand there and nothing else, what the command says stands elsewhere."""
    monkeypatch.chdir(tmp_path)
    code = cli.run(arguments_for(command, name, given, "-"))
    out, err = capfdbinary.readouterr()

    assert (True, True) == (code in {0, 1, 2}, out.startswith(BEGINNINGS.get((command, name), b"%PDF-")))
    if out.startswith(b"%PDF-"):
        assert out.rstrip().endswith(b"%%EOF")
    assert b"Traceback" not in err
    assert not (tmp_path / "-").exists()


def test_only_one_file_goes_to_standard_output(clean, capsys):
    """Two would be one heap."""
    assert cli.run(["report", clean, "--out", "-", "--html", "-", *ON]) == 2
    assert "Only one file can go to standard output" in capsys.readouterr().err


@pytest.mark.parametrize(
    "sent",
    [
        b"observation,date,trees,kind,seen\nO-77,2026-03-01,T1,vigour,slow\n",
        (
            b"# seen\nobservations:\n"
            b"  - {observation: O-77, date: 2026-03-01, trees: [T1], kind: vigour, seen: slow}\n"
        ),
    ],
    ids=["a table", "records"],
)
def test_records_come_from_standard_input(clean, tmp_path, monkeypatch, capsys, sent):
    """`-` names it, and it is what its first line says."""
    season = tmp_path / "copy"
    shutil.copytree(clean, season)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(sent)))
    table = ["--table", "observations"] if sent.startswith(b"obs") and b"," in sent[:20] else []
    code = cli.run(["import", str(season), "-", *table])
    told = capsys.readouterr()

    assert 0 == code, told
    assert read_season(season)[0].record("observations", "O-77")["kind"] == "vigour"


def test_what_is_no_packet_is_refused_from_standard_input_too(monkeypatch, capsys):
    """A PDF by its first bytes, and none that can be read."""
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"%PDF-1.7 no packet")))

    assert cli.run(["verify", "-"]) == 2
    assert "this PDF cannot be read" in capsys.readouterr().err


def test_a_packet_and_a_binder_appear_both_or_neither(clean, tmp_path):
    """When one of the two can't be written the other isn't either."""
    binder = tmp_path / "b.html"
    binder.write_bytes(b"mine")
    packet = tmp_path / "p.pdf"
    assert cli.run(["report", clean, "--out", str(packet), "--html", str(binder), *ON]) == 2
    assert (False, b"mine") == (packet.exists(), binder.read_bytes())


def test_a_packet_is_not_written_over_by_the_one_that_replaces_it(clean, tmp_path, capsys):
    """Whoever corrects a packet needs both."""
    old = tmp_path / "p.pdf"
    shutil.copyfile(__file__, old)
    before = old.read_bytes()
    for more in ([], ["--force"]):
        assert cli.run(["report", clean, "--replaces", str(old), "--out", str(old), *more, *ON]) == 2
    assert "would be written over" in capsys.readouterr().err
    assert before == old.read_bytes()


def test_letters_that_somebody_added_to_stay(root, tmp_path, capsys):
    """An office that wrote a line into a letter keeps it; of all papers none is written then."""
    letters = tmp_path / "letters"
    arguments = ["coop", str(root / "example_coop"), "--letters", str(letters), "--workers", "1", *ON]
    cli.run(arguments)
    (first, *_) = sorted(letters.glob("*.txt"))
    changed = first.read_text(encoding="utf-8") + "See you on Friday.\n"
    first.write_text(changed, encoding="utf-8")
    before = state(letters)
    assert cli.run(arguments) == 2
    assert f"{first} is no letter as certgen leaves it" in capsys.readouterr().err
    assert before == state(letters)


def test_a_season_laid_out_by_force_keeps_what_was_there_and_reads(example_copy, capsys):
    """The old records stand beside, under names that nobody reads as records."""
    old = (example_copy / "trees.yaml").read_bytes()
    assert cli.run(["new", str(example_copy), "--operation", "Larkfold", "--force"]) == 0
    assert f"is kept in {example_copy / 'trees.yaml.before-1'}." in capsys.readouterr().err
    assert old == (example_copy / "trees.yaml.before-1").read_bytes()
    season, _ = read_season(example_copy)
    assert season is not None
    assert "Larkfold" == season.details.operation.name
