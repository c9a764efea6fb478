"""Enter: what was done today goes into the files, and the next form is ready."""

from __future__ import annotations

import html
import re

import pytest
from desk_client import faults, form_of, said, visit

from certgen.desk.entry_kinds import KINDS
from certgen.desk.saving import Addition, save

COVERS = ("certgen.desk.entry_kinds", "certgen.desk.record_links", "certgen.desk.answering")
BAG = {"bag": "B-3", "tree": "01", "covered": "2026-01-20", "flower": "hermaphrodite", "stage": "closed bud",
       "other_buds_cleared": "yes", "secured": "yes", "tagged": "yes"}  # fmt: skip
TYPED = {
    "bag-on": BAG,
    "check": {"round": "R1", "bags": "B-1, B-2", "condition": "intact", "date": "2026-01-21", "by": "KV"},
    "bag-off": {"round": "R1", "bags": "B-1 to B-2", "outcome": "set", "fruit_marked": "yes",
                "date": "2026-01-30", "by": "KV"},
    "picked": {"harvest": "H1", "date": "2026-06-08", "bags": "B-1", "fruits": "1", "weight": "0.9",
               "weight.unit": "kg", "stage": "colour break", "status": "organic"},
    "sampled": {"sample": "S1", "tree": "01", "collected": "2025-12-08", "petiole": "32",
                "petiole.unit": "mm"},
    "results": {"letter": "L1", "laboratory": "Bracken Ford", "report": "BF-1", "samples": "S1 to S9",
                "result": "negative", "reported": "2025-12-20", "anyway": "yes"},
    "run": {"batch": "X1", "date": "2026-06-20", "dry_weight": "20.1", "dry_weight.unit": "g",
            "status": "organic", "runs": "3 min; 2 min"},
    "packed": {"lot": "AK-26-2", "variety": "Amber Kestrel", "packed": "2026-07-01", "weight": "20",
               "weight.unit": "g", "status": "organic", "sources.0.lot": "AK-26-1", "sources.0.weight": "20",
               "sources.0.weight.unit": "g"},
    "sold": {"movement": "M1", "date": "2026-10-01", "lot": "AK-26-1", "weight": "5", "weight.unit": "g",
             "party": "Quillmere Growers", "document": "INV-1"},
    "counted": {"movement": "M1", "date": "2026-11-01", "lot": "AK-26-1", "weight": "15", "weight.unit": "g"},
}  # fmt: skip


@pytest.mark.parametrize("slug", KINDS)
def test_every_kind_of_entry_is_kept_and_opens_the_next(desk, held, slug):
    """Ten kinds, each by its form: the record stands in its table, and the page says where."""
    kind = KINDS[slug]

    answer = desk.post(f"/enter/{slug}", data=TYPED[slug])

    assert {} == faults(answer.text)
    assert 200 == answer.status_code
    key = next(iter(TYPED[slug].values()))
    assert held.look().season.row(kind.table, key) is not None
    assert () == held.look().result.errors
    assert f"{key} , in" in said(answer.text)


@pytest.mark.parametrize("slug", KINDS)
def test_every_form_can_be_sent_as_it_stands_and_is_never_a_crash(desk, slug):
    """Nobody has typed anything: what is needed is named at its field, or the entry is whole already."""
    page = desk.get(f"/enter/{slug}").text

    answer = desk.post(f"/enter/{slug}", data=form_of(page, f"/enter/{slug}"))

    assert answer.status_code in {200, 422}


def test_a_bag_says_what_its_tag_says_when_that_was_written(desk, held):
    """One answer instead of three: the day, the tree and the variety of its planting."""
    desk.post("/enter/bag-on", data=BAG)
    desk.post("/enter/bag-on", data={**BAG, "bag": "B-4", "tagged": "no"})
    desk.post("/enter/bag-on", data={**BAG, "bag": "B-5", "tagged": ""})

    tags = {
        name: (held.look().season.record("bagging", name) or {}).get("tag") for name in ("B-3", "B-4", "B-5")
    }
    assert ("Amber Kestrel", "01") == (tags["B-3"]["variety"], tags["B-3"]["tree"])
    assert (None, None) == (tags["B-4"], tags["B-5"])


def test_the_next_form_holds_what_stays_the_same(desk):
    """The number after the last, the day, the flower; never whether the buds were cleared or the string
    tied.
    """
    desk.post("/enter/bag-on", data=BAG)

    form = form_of(desk.get("/enter/bag-on").text, "/enter/bag-on")

    assert ("B-4", "2026-11-25", "hermaphrodite", "closed bud") == tuple(
        form[name] for name in ("bag", "covered", "flower", "stage")
    )
    assert ("", "", "", "") == tuple(
        form[name] for name in ("tree", "other_buds_cleared", "secured", "tagged")
    )


def test_a_weight_a_result_and_a_source_never_carry_over(desk):
    """What was weighed once isn't the next one's weight."""
    desk.post("/enter/sold", data=TYPED["sold"])
    desk.post("/enter/results", data=TYPED["results"])

    sold = form_of(desk.get("/enter/sold").text, "/enter/sold")
    letter = form_of(desk.get("/enter/results").text, "/enter/results")

    assert ("M2", "", "", "") == (sold["movement"], sold["weight"], sold["lot"], sold["document"])
    assert ("Bracken Ford", "", "", "") == tuple(
        letter[name] for name in ("laboratory", "result", "report", "samples")
    )


def test_the_scale_s_unit_is_the_first(desk):
    """A shed whose scale shows grams needn't choose them."""
    assert "g" == form_of(desk.get("/enter/counted").text, "/enter/counted")["weight.unit"]


def test_an_address_may_bring_what_it_is_about(desk):
    """The tree that was chosen in the orchard, the bags that are due."""
    assert "02" == form_of(desk.get("/enter/bag-on?tree=02&evil=1").text, "/enter/bag-on")["tree"]


def test_a_refused_entry_keeps_what_was_typed(desk, held):
    """The fault stands at its field, and not a letter is lost."""
    answer = desk.post(
        "/enter/bag-on", data={**BAG, "covered": "20.1.26", "note": 'a <b>"quoted"</b> & long'}
    )

    assert 422 == answer.status_code
    assert ["covered"] == list(faults(answer.text))
    form = form_of(answer.text, "/enter/bag-on")
    assert ("20.1.26", 'a <b>"quoted"</b> & long', "B-3") == (form["covered"], form["note"], form["bag"])
    assert '<b>"quoted"' not in answer.text
    assert held.look().season.row("bagging", "B-3") is None


def test_a_refused_list_keeps_its_rows(desk):
    """What a lot was made of needn't be typed again."""
    answer = desk.post("/enter/packed", data={**TYPED["packed"], "weight": "heavy", "sources.4.batch": "X9"})

    form = form_of(answer.text, "/enter/packed")
    assert ("AK-26-1", "20", "X9") == (
        form["sources.0.lot"],
        form["sources.0.weight"],
        form["sources.4.batch"],
    )


def test_a_tree_that_is_not_there_is_asked_about(desk, held):
    """`x02` is told from `02`; whoever means `2` says so and is believed."""
    asked = desk.post("/enter/bag-on", data={**BAG, "tree": "x02"})
    assert "no tree is called 'x02'. Did you mean 02?" == faults(asked.text)["tree"]
    assert "Save all the same" in said(asked.text)

    desk.post("/enter/bag-on", data={**BAG, "tree": "2", "anyway": "yes"})

    assert "2" == held.look().season.record("bagging", "B-3")["tree"]


def test_a_bare_number_is_the_one_tree_that_ends_like_it(desk, held):
    """It is said for which it was taken; where two end alike, nobody guesses."""
    add = {"planting": "P1", "sex": "female"}
    save(held, [Addition("trees", {"tree": name, **add}) for name in ("T-405", "N-7", "S-7", "T-1405")])

    tried = desk.post("/enter/bag-on/try", data={**BAG, "tree": "405"}).json()
    taken = desk.post("/enter/bag-on", data={**BAG, "tree": "405"})
    asked = desk.post("/enter/bag-on", data={**BAG, "bag": "B-4", "tree": "7"})

    assert ({}, {"tree": "T-405"}) == (tried["faults"], tried["meant"])
    assert "Saved: bag B-3 on tree T-405" in said(taken.text)
    assert "T-405" == held.look().season.record("bagging", "B-3")["tree"]
    assert "no tree is called '7'" in faults(asked.text)["tree"]


def test_again_says_what_the_last_one_said_and_was_left_open(desk, held):
    """What was said otherwise stays so; the button tells beforehand what it would say."""
    desk.post("/enter/bag-on", data=BAG)
    page = desk.get("/enter/bag-on").text

    form = {**form_of(page, "/enter/bag-on"), "tree": "02", "flower": "female", "again": "yes"}
    desk.post("/enter/bag-on", data=form)

    there = held.look().season.record("bagging", "B-4")
    assert "Other buds cleared: yes; Secured: yes; Tag written: yes" in said(page)
    assert (True, True, "female", "02") == (
        there["secured"], there["other_buds_cleared"], there["flower"], there["tag"]["tree"]
    )  # fmt: skip


@pytest.mark.parametrize("slug", KINDS)
def test_again_never_repeats_a_weight_a_result_or_a_source(slug):
    """Nor what nobody has looked at this time."""
    assert set(KINDS[slug].again).isdisjoint(
        {"weight", "result", "condition", "outcome", "fruits", "sources", "tree", "petiole", "mark", "lot"}
    )


def test_each_scale_has_its_own_unit(desk):
    """Fruit in kilograms, seed in grams; the smallest scale's milligrams can be chosen."""
    desk.post("/enter/picked", data=TYPED["picked"])

    picked, sold = (form_of(desk.get(f"/enter/{slug}").text, f"/enter/{slug}") for slug in ("picked", "sold"))

    assert ("kg", "g") == (picked["weight.unit"], sold["weight.unit"])
    assert "<option>mg</option>" in desk.get("/enter/sold").text


def test_the_samples_that_wait_are_a_press_away(desk, held):
    """One letter for twenty samples, with its exception, on one screen."""
    names = [f"S-{number:02}" for number in range(1, 21)]
    taken = {"tree": "01", "collected": "2025-12-08", "laboratory": "Bracken Ford"}
    save(held, [Addition("screening", {"sample": name, **taken}) for name in names])
    page = desk.get("/enter/results").text
    (lead,) = re.findall(r'href="(/enter/results\?samples=[^"]+)"', page)

    form = form_of(desk.get(html.unescape(lead)).text, "/enter/results")
    letter = {"letter": "L1", "report": "BF-1", "result": "negative"}
    exception = {"exceptions.0.samples": "S-19", "exceptions.0.result": "positive"}
    answer = desk.post("/enter/results", data={**form, **exception, **letter})

    results = held.look().result.season.tables["screening"]["result"].tolist()
    assert "20 samples at Bracken Ford" in said(page)
    assert 200 == answer.status_code, faults(answer.text)
    assert (19, 1) == (results.count("negative"), results.count("positive"))
    assert "20 samples" not in said(answer.text)


def test_a_tree_is_chosen_in_the_drawing(desk):
    """Each tree leads back to the form that asked for it; no other form is led to."""
    chosen, plain, odd = (desk.get(f"/orchard{query}").text for query in ("?to=bag-on", "", "?to=counted"))

    assert 'href="/enter/bag-on?tree=02"' in chosen
    assert 'href="/record/trees/02"' in plain
    assert 'href="/record/trees/02"' in odd
    form = form_of(desk.get("/enter/bag-on?tree=02").text, "/enter/bag-on")
    assert "02" == form["tree"]


def test_sent_twice_it_is_there_once(desk, held):
    """A thumb that pressed twice is told so."""
    desk.post("/enter/bag-on", data=BAG)
    again = desk.post("/enter/bag-on", data=BAG)

    assert "was there already" in said(again.text)
    assert 3 == len(held.look().season.tables["bagging"])


def test_two_windows_lose_nothing(desk, held):
    """Both were shown B-3; the second to save is told that it is taken, with what it typed still there."""
    other = visit(held)
    desk.post("/enter/bag-on", data=BAG)

    answer = other.post("/enter/bag-on", data={**BAG, "tree": "02"})

    assert "B-3 is taken; the next free number is B-4." == faults(answer.text)["bag"]
    assert "02" == form_of(answer.text, "/enter/bag-on")["tree"]


def test_a_fault_is_told_while_it_is_typed(desk, held):
    """Only of fields that hold something: nobody is told of what they haven't come to yet."""
    answer = desk.post("/enter/bag-on/try", data={"bag": "B-3", "tree": "7", "flower": "rose"})

    assert {"tree", "flower"} == set(answer.json()["faults"])
    assert held.look().season.row("bagging", "B-3") is None


def test_a_record_s_page_changes_what_was_changed(desk, folder):
    """Sent as it stands it changes nothing; one field changed, one line differs."""
    before = (folder / "bags.yaml").read_text(encoding="utf-8")
    form = form_of(desk.get("/record/bagging/B-1").text, "/record/bagging/B-1")

    desk.post("/record/bagging/B-1", data=form)
    assert before == (folder / "bags.yaml").read_text(encoding="utf-8")
    desk.post("/record/bagging/B-1", data={**form, "flower": "female"})

    assert before.replace("hermaphrodite", "female", 1) == (folder / "bags.yaml").read_text(encoding="utf-8")


def test_every_record_of_the_example_comes_back_as_it_was(example_copy):
    """No page that is sent unchanged changes a byte, whatever the record holds."""
    from desk_client import hold

    held = hold(example_copy)
    desk, season = visit(held), held.look().season
    before = {path: path.read_bytes() for path in example_copy.rglob("*.yaml")}
    for table in ("bagging", "batches", "lots", "rounds", "letters", "visits", "recalls", "inputs", "blocks"):
        for name in season.tables[table].iloc[:2, 0].tolist():
            path = f"/record/{table}/{name}"
            answer = desk.post(path, data=form_of(desk.get(path).text, path))
            assert "was there already" in said(answer.text), path

    assert before == {path: path.read_bytes() for path in example_copy.rglob("*.yaml")}


def test_both_versions_are_shown_and_yours_is_kept_in_the_form(desk, held):
    """Saved again, yours takes its place: now it has been seen. What the other changed elsewhere stays."""
    path = "/record/bagging/B-1"
    mine = {**form_of(desk.get(path).text, path), "stage": "open"}
    theirs = {**mine, "stage": "", "note": "wet"}
    visit(held).post(path, data=theirs)

    clash = desk.post(path, data=mine)

    assert 409 == clash.status_code
    assert "closed bud empty open" in said(clash.text)
    again = form_of(clash.text, path)
    assert ("open", "wet") == (again["stage"], again["note"])
    desk.post(path, data=again)
    there = held.look().season.record("bagging", "B-1")
    assert ("open", "wet") == (there["stage"], there["note"])


def test_a_tree_s_page_names_its_bags(desk):
    """And leads to them."""
    page = desk.get("/record/trees/02").text

    assert re.search(r'href="/record/bagging/B-2"', page)
    assert "Named by 1 bag: B-2" in said(page)


@pytest.mark.parametrize(
    "path",
    ["/enter/nothing", "/record/bagging/B-99", "/record/rabbits/1", "/tables/rabbits", "/record/bagging/"],
)
def test_what_is_not_there_is_said(desk, path):
    """A page with the way back, no blank and no trace of a crash."""
    answer = desk.get(path)

    assert 404 == answer.status_code
    assert "To today’s page" in said(answer.text)


def test_a_new_record_of_any_table_has_every_field(desk, held):
    """The long form takes what the short one doesn't ask for."""
    desk.post(
        "/tables/inputs/new",
        data={"input": "I1", "date": "2026-02-01", "block": "East", "material": "compost"},
    )

    assert "compost" == held.look().season.record("inputs", "I1")["material"]


@pytest.mark.parametrize("body", [b"\xff\xfe", b"a" * (3 << 20), b"&".join(b"a=1" for _ in range(30_000))])
def test_what_is_no_form_is_refused(desk, body):
    """Letters that are none, more than a form can hold, more fields than any form has."""
    answer = desk.post(
        "/enter/bag-on", content=body, headers={"content-type": "application/x-www-form-urlencoded"}
    )

    assert answer.status_code in {400, 413}


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/enter/bag-on", "Latex"),
        ("/enter/picked", "Ladders"),
        ("/enter/run", "defers to"),
        ("/tables/inputs/new", "pray"),
    ],
)
def test_a_form_bears_the_cautions_of_its_work(desk, path, words):
    """Where hands are, what can hurt them is told."""
    (told,) = re.findall(r'<div class="cautions".*?</div>', desk.get(path).text, re.DOTALL)

    assert words.casefold() in told.casefold()
