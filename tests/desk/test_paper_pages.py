"""Papers: one letter to many records, photographs shown, what has none listed."""

from __future__ import annotations

import pytest
from desk_client import said


def take_in(desk, data=b"a letter", **told):
    """What the page's script sends."""
    query = {"name": "letters/a.txt", "table": "bagging", "records": "B-1 to B-2", **told}
    return desk.post(
        "/papers", params=query, content=data, headers={"content-type": "application/octet-stream"}
    )


def test_one_letter_is_named_to_many_records(desk, held, folder):
    """By a range; the file lies in the evidence, and the comments in the records' file stay."""
    answer = take_in(desk)

    season = held.look().season
    assert (["bag B-1", "bag B-2"], []) == (answer.json()["done"], answer.json()["faults"])
    assert [("letters/a.txt",)] * 2 == [season.record("bagging", name)["evidence"] for name in ("B-1", "B-2")]
    assert b"a letter" == (folder / "evidence/letters/a.txt").read_bytes()
    assert "# dry, no wind" in (folder / "bags.yaml").read_text(encoding="utf-8")


def test_a_second_paper_joins_the_first(desk, held):
    """And the first sent again changes nothing."""
    take_in(desk)
    take_in(desk, b"another", name="letters/b.txt", records="B-1")
    before = held.look().version
    again = take_in(desk)

    assert ("letters/a.txt", "letters/b.txt") == held.look().season.record("bagging", "B-1")["evidence"]
    assert ([], ["bag B-1", "bag B-2"]) == (again.json()["faults"], again.json()["done"])
    assert before == held.look().version


@pytest.mark.parametrize(
    "name",
    [
        "",
        "../a.txt",
        "/etc/a",
        "a/../../b",
        "a//b",
        ".hidden",
        "a/.b",
        "a\\b",
        "a\nb",
        "x" * 200,
        "C:/a",
        "a/b/c/d/e",
        "a\x00",
        "..",
        "a/../b",
        "a.txt.",
        "CON.txt",
        "letters/nul",
        "a/b:stream",
        "a?b",
        "a\u202egpj.exe",
        "é" * 110,
    ],
)
def test_no_name_leads_out_of_the_evidence(desk, folder, name):
    """Nor to a file that nobody would see there."""
    before = sorted(folder.rglob("*"))

    answer = take_in(desk, name=name)

    assert (422, "a plain name") == (answer.status_code, answer.json()["faults"][0][8:20])
    assert before == sorted(folder.rglob("*"))


def test_names_that_some_systems_take_for_one_are_told_apart(desk, folder):
    """A season is carried from one to the other; nor does a folder take a file's place."""
    take_in(desk)

    alike = take_in(desk, b"another", name="Letters/A.txt").json()["faults"][0]
    below = take_in(desk, b"another", name="letters/a.txt/b.txt").json()["faults"][0]

    assert "evidence/letters/a.txt is there already" in alike
    assert "A file stands where the folder" in below
    assert ["a.txt", "letters"] == sorted(path.name for path in (folder / "evidence").rglob("*"))


def test_no_link_leads_out_of_the_evidence(desk, folder, tmp_path):
    """A folder that is a link to another place takes no paper and shows none."""
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere/secret.txt").write_text("nobody's business", encoding="utf-8")
    (folder / "evidence").mkdir()
    (folder / "evidence/out").symlink_to(tmp_path / "elsewhere")

    answer = take_in(desk, name="out/a.txt")

    assert 422 == answer.status_code
    assert ["secret.txt"] == [path.name for path in (tmp_path / "elsewhere").iterdir()]
    assert 404 == desk.get("/paper/out/secret.txt").status_code


def test_another_file_of_the_name_never_gives_way(desk, folder):
    """It is told, and the records stay as they were."""
    take_in(desk, records="B-1")
    before = (folder / "bags.yaml").read_bytes()

    answer = take_in(desk, b"another letter", records="B-2")

    assert "is another file" in answer.json()["faults"][0]
    assert (before, b"a letter") == (
        (folder / "bags.yaml").read_bytes(),
        (folder / "evidence/letters/a.txt").read_bytes(),
    )


@pytest.mark.parametrize(
    ("told", "words"),
    [({"records": "B-9"}, "called B-9"), ({"records": " "}, "which records"), ({"table": "rabbits"}, "about"),
     ({"table": "explanations"}, "about"), ({"data": b""}, "holds something")],
)  # fmt: skip
def test_what_is_missing_is_asked_for(desk, folder, told, words):
    """Nothing is half done."""
    answer = take_in(desk, **told)

    assert words in answer.json()["faults"][0]
    assert not (folder / "evidence").exists()


@pytest.mark.parametrize(("name", "kind", "how"), [
    ("a.png", "image/png", "inline"), ("a.txt", "text/plain; charset=utf-8", "inline"),
    ("a.html", "application/octet-stream", "attachment"), ("a.svg", "application/octet-stream", "attachment"),
    ("a.yaml", "application/octet-stream", "attachment"),
])  # fmt: skip
def test_only_pictures_letters_and_pages_are_shown(desk, name, kind, how):
    """What may hold a script is handed over to be kept, not opened in the desk's own name."""
    take_in(desk, b"<script>alert(1)</script>", name=name)

    answer = desk.get(f"/paper/{name}")

    assert (kind, how) == (
        answer.headers["content-type"],
        answer.headers["content-disposition"].split(";")[0],
    )


@pytest.mark.parametrize(
    "name", ["../season.yaml", "%2e%2e/season.yaml", "..%2fseason.yaml", "", ".", "letters"]
)
def test_nothing_but_the_evidence_is_shown(desk, name):
    """Not the records, nor a folder."""
    take_in(desk)

    assert 404 == desk.get(f"/paper/{name}").status_code


def test_what_has_no_paper_is_listed_with_the_way_to_one(desk):
    """A result without its letter."""
    row = {"sample": "S1", "tree": "01", "collected": "2025-12-08", "result": "negative", "report": "BF-1"}
    desk.post("/tables/screening/cells", json={"rows": [row]})

    page = desk.get("/papers").text

    assert "report BF-1" in said(page)
    assert "/papers?table=screening&amp;records=S1" in page
