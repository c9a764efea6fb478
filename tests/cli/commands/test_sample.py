"""`certgen sample`: a sheet for the field that anybody can draw again, and the plan of a seed test."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import unicodedata
from datetime import date
from pathlib import Path

import pytest
from pages import text_of
from printed import json_of

from certgen import cli
from certgen.dossier.spot_check import Asked, freeze_draw
from certgen.examination import examine
from certgen.manifest import digest_records

COVERS = (
    "certgen.cli.writers.sample",
    "certgen.exchange.interchange.sample",
    "certgen.exchange.field_paper.draw_sheets",
)
ON = ["--on", "2026-11-20"]
DRAW = ["--records", "--seed", "rain at noon", "--size", "7", *ON]
HANGS = ["--size", "7", "--on", "2026-06-20"]
PLAN = ["--of", "seed", "--lot", "AK-26-1", "--detect", "0.5 %", *ON]
GOLDEN = Path(__file__).parent / "golden"


def as_json(capsys, *arguments):
    """What was printed as JSON, checked against its schema."""
    assert 0 == cli.run(["sample", *map(str, arguments), "--format", "json"])
    return json_of(capsys, "sample")


def refused(capsys, *arguments):
    """Why a command drew nothing, on one line."""
    assert 2 == cli.run(["sample", *map(str, arguments)])
    shown = capsys.readouterr()
    assert "" == shown.out
    return " ".join(shown.err.split())


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("papers", DRAW),
        ("bags", ["--seed", "rain at noon", *HANGS]),
        ("trees", ["--of", "trees", "--by", "variety", "--seed", "rain at noon", "--detect", "10 %", *ON]),
        ("lots", ["--of", "lots", "--seed", "rain at noon", "--size", "3", *ON]),
        ("nothing", ["--seed", "rain at noon", "--detect", "5 %", *ON]),
        ("frozen", ["--freeze", *HANGS]),
        ("frozen-open", ["--freeze", "--of", "lots", *ON]),
        ("seed", PLAN),
    ],
)
def test_text_stays_as_it_was_read(name, arguments, example_season, golden, capsys, monkeypatch):
    """The sheet of the example season, word for word, with one digest for its records whatever they are."""
    monkeypatch.setattr("certgen.manifest.digest_records", lambda _season: "0" * 64)
    assert 0 == cli.run(["sample", str(example_season), *arguments])

    golden(GOLDEN / f"sample-{name}.txt", capsys.readouterr().out)


def test_the_draw_is_what_the_sheet_tells_one_to_do(example_season, capsys):
    """Fingerprint, bar, text, bar, identifier; SHA-256; sorted: by hand, without certgen's own drawing."""
    one = as_json(capsys, example_season, "--by", "all", *DRAW)
    everything = as_json(capsys, example_season, "--by", "all", *DRAW[:3], "--size", "152", *ON)
    lead = f"{one['fingerprint']}|rainatnoon|"
    names = [item["id"] for item in everything["drawn"]]
    by_hand = sorted(names, key=lambda name: hashlib.sha256(f"{lead}{name}".encode()).digest())[:7]

    assert set(by_hand) == {item["id"] for item in one["drawn"]}


def test_the_fingerprint_can_be_taken_with_other_programs(example_season, capsys):
    """Every file of records and evidence, of the season before too, and the items, hashed here; then all."""
    found = as_json(capsys, example_season, "--freeze", *HANGS)
    everything = as_json(
        capsys, example_season, "--seed", "rain at noon", "--size", "106", "--on", "2026-06-20"
    )["drawn"]
    strata = {}
    for item in sorted(everything, key=lambda item: (item["stratum"], item["id"])):
        strata.setdefault(item["stratum"], []).append(item["id"])
    pairs = []
    for lead, folder in (("", example_season), ("previous-1/", example_season / ".season-2025")):
        for path in folder.rglob("*"):
            below = path.relative_to(folder)
            if path.is_file() and not any(part.startswith(".") for part in below.parts):
                kind = "" if below.parts[0] == "evidence" else "records/"
                if kind and path.suffix != ".yaml":
                    continue
                name = f"{lead}{kind}{below.as_posix()}"
                pairs.append([name, hashlib.sha256(path.read_bytes()).hexdigest()])

    def digest(content):
        return hashlib.sha256(json.dumps(content, separators=(",", ":")).encode()).hexdigest()

    asked = {
        "basis": "there", "by": "block", "items": digest(strata), "kind": "bags", "on": "2026-06-20",
        "records": digest({"files": sorted(pairs), "unread": []}),
    }  # fmt: skip
    assert digest(asked) == found["fingerprint"]


@pytest.fixture(scope="module")
def noted(example_season):
    """The first step's fingerprint of what hangs in June."""
    result = examine(example_season, date(2026, 6, 20))
    return freeze_draw(result, Asked("bags"), digest_records(result.season))


def freeze(capsys, season):
    """The first step's fingerprint, as it is printed."""
    return as_json(capsys, season, "--freeze", *HANGS)["fingerprint"]


def test_two_steps_draw_what_hangs(noted, example_season, capsys):
    """Frozen, noted, then drawn with the text: the sheet bears both and says that the order was kept."""
    written = " ".join(noted[start : start + 4] for start in range(0, 64, 4)).upper()
    found = as_json(capsys, example_season, *HANGS, "--frozen", written, "--seed", "Rain, at noon!")

    assert (noted, True, "rainatnoon") == (
        found["fingerprint"], found["frozen_first"], found["seed_as_hashed"],
    )  # fmt: skip
    assert {"the bag", "the fruit, its bag is off"} >= {item["says"]["hangs"] for item in found["drawn"]}


def test_how_the_text_is_typed_changes_nothing(noted, example_season, capsys):
    """Whoever types the inspector's text can't steer with a capital, a stop or an accent."""
    found = [
        as_json(capsys, example_season, *HANGS, "--frozen", noted, "--seed", typed)["drawn"]
        for typed in ("rain at noon", "RÁIN,  at Noon.\u200b")
    ]

    assert found[0] == found[1]


def test_a_fingerprint_given_without_the_step_before_says_so(example_season, capsys):
    """With a text alone the records may have been written to suit it."""
    found = as_json(capsys, example_season, *HANGS, "--seed", "rain at noon")

    assert found["frozen_first"] is False
    assert found["order"].startswith("Nothing shows")


def rename_bag(season):
    """One bag has another number, as before: once a way to another draw."""
    path = season / "bagging" / "2026-01.yaml"
    path.write_text(
        path.read_text(encoding="utf-8").replace("bag: B26-001", "bag: B26-001b", 1), encoding="utf-8"
    )


def add_evidence(season):
    """A file that nothing names lies among the evidence."""
    (season / "evidence" / "note.txt").write_text("x", encoding="utf-8")


def add_blank(season):
    """A blank line changes no record, and the fingerprint all the same."""
    with (season / "trees.yaml").open("a", encoding="utf-8") as file:
        file.write("\n")


def change_last_year(season):
    """A file of the season before."""
    path = next((season / ".season-2025").glob("*.yaml"))
    path.write_text(path.read_text(encoding="utf-8") + "# \n", encoding="utf-8")


def add_unreadable(season):
    """A file that no program reads as text: what it holds can be mended later."""
    (season / "more.yaml").write_bytes(b"\xff\xfe")


@pytest.mark.parametrize("change", [rename_bag, add_evidence, add_blank, add_unreadable, change_last_year])
def test_nothing_is_drawn_once_a_record_changed(change, example_copy, capsys):
    """The fingerprint that was noted isn't that of the records any more, and both are told."""
    noted = freeze(capsys, example_copy)
    change(example_copy)
    said = refused(capsys, example_copy, *HANGS, "--frozen", noted, "--seed", "rain at noon")

    assert "a record or its evidence changed since" in said
    cli.run(["sample", str(example_copy), "--freeze", *HANGS, "--format", "json"])
    assert json_of(capsys, "sample")["fingerprint"] in said.replace(" ", "")


@pytest.mark.parametrize(
    "other",
    [["--on", "2026-06-21"], ["--by", "variety"], ["--by", "all"], ["--of", "trees"], ["--records"]],
)
def test_what_is_asked_cannot_be_chosen_after_the_text(other, noted, example_season, capsys):
    """Another day, kind, basis or grouping is another fingerprint."""

    assert "isn't what is here" in refused(
        capsys, example_season, *HANGS, "--frozen", noted, "--seed", "rain at noon", *other
    )


def test_a_larger_sample_is_not_frozen_anew(noted, example_season, capsys):
    """An inspector who found something looks at more, of the same draw."""
    draw = [example_season, "--on", "2026-06-20", "--frozen", noted, "--seed", "rain at noon"]
    found = [as_json(capsys, *draw, "--size", size)["drawn"] for size in (5, 25)]
    few, more = ({item["id"] for item in drawn} for drawn in found)

    assert few < more


def test_the_text_is_asked_for_after_the_fingerprint_was_shown(noted, example_season, capsys, monkeypatch):
    """On the terminal: the digits first, on standard error, and the same draw as in two steps."""
    monkeypatch.setattr("sys.stdin", _Typed("rain at noon\n"))
    found = as_json(capsys, example_season, *HANGS)
    expected = as_json(capsys, example_season, *HANGS, "--frozen", noted, "--seed", "rain at noon")

    assert expected == found


class _Typed(io.StringIO):
    """What somebody types on a terminal."""

    def isatty(self):
        """Somebody is there."""
        return True


@pytest.mark.parametrize(("kind", "page"), [("bags", "A4"), ("trees", "Letter"), ("lots", "A4")])
def test_the_sheet_is_printed_to_take_along(kind, page, example_season, tmp_path, capsys):
    """A page with every item drawn, the fingerprint, the text and room for what is found."""
    path = tmp_path / "sheet.pdf"
    arguments = [example_season, "--of", kind, *DRAW, "--out", path, "--page", page]
    found = as_json(capsys, *arguments)
    text = text_of(path.read_bytes())

    assert [] == [item["id"] for item in found["drawn"] if item["id"] not in text]
    assert "rainatnoon" in text
    assert found["fingerprint"][:4] in text
    assert "Found" in text


def test_a_sheet_of_nothing_is_not_printed(example_season, tmp_path, capsys):
    """Nothing hangs in November; no file is left."""
    path = tmp_path / "sheet.pdf"

    said = refused(capsys, example_season, "--seed", "rain at noon", "--detect", "5 %", "--out", path, *ON)
    assert "nothing was drawn" in said
    assert not path.exists()


@pytest.mark.parametrize("kind", ["bags", "trees", "lots"])
def test_sheets_hold_nothing_that_acts_on_a_terminal(kind, example_season, capsys):
    """No control character in any form but line ends."""
    for form in ("text", "json", "csv"):
        cli.run(["sample", str(example_season), "--of", kind, "--format", form, *DRAW])
        shown = capsys.readouterr().out
        assert {"\n"} >= {sign for sign in shown if unicodedata.category(sign) == "Cc"}


def test_a_tag_that_speaks_to_the_terminal_is_shown_harmless(example_season, capsys):
    """A control character in the text of a draw is not passed on."""
    cli.run(
        ["sample", str(example_season), "--records", "--seed", "rain at\x1b[31m noon", "--size", "3", *ON]
    )
    assert "\x1b" not in capsys.readouterr().out


def test_csv_has_the_items_of_json(example_season, capsys):
    """The same items in the same order, with room for what is found."""
    found = as_json(capsys, example_season, *DRAW)["drawn"]
    cli.run(["sample", str(example_season), *DRAW, "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))

    assert [one["id"] for one in found] == [row["id"] for row in rows]
    assert {""} == {row["found"] for row in rows}


def test_a_plan_is_the_same_in_every_form(example_season, capsys):
    """Three pools of 200 seeds at 16.1 g a thousand are 9.7 g."""
    found = as_json(capsys, example_season, *PLAN)
    cli.run(["sample", str(example_season), *PLAN, "--format", "csv"])
    (row,) = csv.DictReader(io.StringIO(capsys.readouterr().out))

    assert (3, 200, 600) == (found["pools"], found["seeds_per_pool"], found["seeds"])
    assert found["uses_up_g"] == pytest.approx(600 * found["thousand_seeds_g"] / 1000)
    assert found["uses_up_g"] == float(row["uses_up_g"])


@pytest.mark.parametrize("form", ["text", "json", "csv"])
@pytest.mark.parametrize("kind", ["bags", "trees", "lots"])
def test_nothing_can_be_drawn_from_nothing(kind, form, empty, capsys):
    """A share of no bags is no bags; a number of them is refused in words."""
    draw = ["sample", empty, "--of", kind, "--seed", "rain at noon", "--format", form]
    assert 0 == cli.run([*draw, "--detect", "5 %"])
    assert 2 == cli.run([*draw, "--size", "5"])
    assert "There is nothing to draw from" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--size", "5"], "--freeze"),
        (["--seed", "rain at noon"], "--size 20"),
        (["--seed", "rain at noon", "--size", "5", "--detect", "5 %"], "--size 20"),
        (["--seed", "rain at noon", "--detect", "five"], "Write it like '5 %'"),
        (["--seed", "rain at noon", "--detect", "100 %"], "Write it like '5 %'"),
        (["--seed", "rain at noon", "--records", "--size", "5000"], "cannot be drawn from 152"),
        (["--seed", "rain at noon", "--size", "20", *ON], "--records draws from 152 on record"),
        (["--seed", "rain at noon", "--records", "--size", "1"], "take 2 or more"),
        (["--seed", "rain at noon", "--size", "5", "--lot", "AK-26-1"], "--of seed"),
        (["--seed", "x", "--records", "--size", "5"], "8 letters or digits"),
        (["--seed", "", "--records", "--size", "5"], "8 letters or digits"),
        (["--of", "lots", "--by", "block", "--seed", "rain at noon", "--size", "5"], "by variety"),
        (["--freeze", "--seed", "rain at noon", "--size", "5"], "once the fingerprint is noted"),
        (["--freeze", "--frozen", "0" * 64], "once the fingerprint is noted"),
        (["--seed", "rain at noon", "--size", "5", "--frozen", "3f2a 9c11"], "64 digits"),
        (["--of", "seed", "--lot", "AK-26-1", "--detect", "1 %", "--freeze"], "nothing is drawn"),
        (["--of", "seed", "--detect", "1 %"], "needs a lot"),
        (["--of", "seed", "--lot", "AK-26-1"], "needs a lot"),
        (["--of", "seed", "--lot", "AK-26-99", "--detect", "1 %"], "Did you mean 'AK-26-"),
        (["--of", "seed", "--lot", "AK-26-1", "--detect", "1 %", "--pool", "300"], "among 250 at most"),
    ],
)
def test_a_wrong_option_is_explained(arguments, said, example_season, capsys):
    """Exit code 2, one sentence, a way out."""
    assert 2 == cli.run(["sample", str(example_season), *arguments])
    assert said in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("share", ["1e-300%", "1e-20 %", "nan", "inf %", "1e99999999999%"])
def test_a_share_that_nobody_can_look_for_is_refused(example_season, capsys, share):
    """In a sentence, without hundreds of digits."""
    asked = ["sample", str(example_season), "--of", "seed", "--lot", "AK-26-1", "--detect", share]

    assert 2 == cli.run([*asked, "--on", "2026-10-31"])
    said = capsys.readouterr().err
    assert "--detect" in said
    assert len(said) < 300
