"""What every drawing keeps: whole SVG, words for those who don't see it, no text of the records as markup."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.report.drawings.glance import draw_glance
from certgen.report.drawings.labels import label
from certgen.report.drawings.ledger import LedgerPicture, LedgerStep, draw_ledger
from certgen.report.drawings.line import LineLayer, LineNode, LinePicture, collapse, draw_line
from certgen.report.drawings.orchard import (
    OrchardBlock,
    OrchardFinding,
    OrchardPicture,
    OrchardTree,
    draw_orchard,
    find_spots,
    measure_cell,
    share_out,
)
from certgen.report.drawings.standing import (
    LotBar,
    StandingPicture,
    TotalPicture,
    draw_standing,
    draw_total,
)
from certgen.report.drawings.timeline import Lane, TimePicture, draw_timeline
from certgen.report.drawings.tree_places import natural, neighbours_of_positive
from certgen.report.drawings.twin import TwinPicture, TwinRow, draw_twin
from certgen.typeset.faces import text_width
from certgen.typeset.marks import MARKS, draw_mark
from certgen.typeset.svg import escape, hatch

COVERS = (
    "certgen.report.drawings.glance",
    "certgen.report.drawings.labels",
    "certgen.report.drawings.ledger",
    "certgen.report.drawings.line",
    "certgen.typeset.marks",
    "certgen.report.drawings.orchard",
    "certgen.report.drawings.standing",
    "certgen.report.drawings.tree_places",
    "certgen.typeset.spots",
    "certgen.typeset.svg",
    "certgen.report.drawings.timeline",
    "certgen.report.drawings.twin",
)
SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert('x')</script>&\"]]>"


def read(text: str) -> ET.Element:
    """The drawing's root."""
    return ET.fromstring(text)


def contrast(one: str, other: str) -> float:
    """How two colours stand out from each other, by the formula of WCAG."""

    def light(colour: str) -> float:
        parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
        linear = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    low, high = sorted((light(one), light(other)))
    return (high + 0.05) / (low + 0.05)


def words(root: ET.Element) -> list[str]:
    """The lines of text in a drawing."""
    return ["".join(part.itertext()) for part in root.iter(f"{SVG}text")]


def tree(name: str, row: str, position: str, screening: str = "negative", **more) -> OrchardTree:
    """A tree in its place."""
    traits = {"sex": "hermaphrodite", "parent": False, "removed": False} | more
    return OrchardTree(name, row, position, screening=screening, **traits)


def drawings(text: str) -> list[str]:
    """One of each, with `text` wherever a record's words can stand."""
    step = LedgerStep(text, 5, text)
    return [
        draw_ledger(LedgerPicture(text, text, (step, LedgerStep(text, -2, text)), step, step, 400)),
        draw_line(
            LinePicture(
                text,
                text,
                (LineLayer(text, text, (LineNode("a", text, text, "unproven", text),)),),
                (("a", "a"),),
                400,
            )
        ),
        draw_orchard(OrchardPicture(text, text, (OrchardBlock(text, (tree(text, text, text),)),), 400)),
        draw_total(TotalPicture(text, text, (("traced", 3, text), ("rejected", 1, text)), 400)),
        draw_standing(StandingPicture(text, text, (LotBar(text, text, "traced", (1, 2, 3, 4), text),), 400)),
        draw_timeline(TimePicture(text, text, (Lane(text, (date(2026, 1, 2),)),), 400)),
        draw_twin(TwinPicture(text, text, text, text, (TwinRow(text, 1.0, None, text, text),), 400)),
    ]


@pytest.mark.parametrize("number", range(7))
@pytest.mark.parametrize("text", [HOSTILE, "مزرعة", "x" * 400, "plain"])
def test_text_is_never_markup(number, text):
    """Whatever a record says, a drawing is sound XML with a title, a description and none of the record's."""
    root = read(drawings(text)[number])
    names = {part.tag.removeprefix(SVG) for part in root.iter()}

    assert names <= {"svg", "title", "desc", "text", "line", "path", "rect", "circle", "polygon", "g"}
    assert text == root.find(f"{SVG}title").text
    assert text == root.find(f"{SVG}desc").text
    assert {f"{SVG}title", f"{SVG}desc"} == {part.tag for part in root[:2]}


@pytest.mark.parametrize("number", range(7))
def test_empty_pictures_are_drawn(number):
    """A season without a single record still gets its drawings."""
    none = LedgerStep("left", 0, "0 g")
    empty = [
        draw_ledger(LedgerPicture("t", "d", (), none, None, 400)),
        draw_line(LinePicture("t", "d", (), (), 400)),
        draw_orchard(OrchardPicture("t", "d", (), 400)),
        draw_total(TotalPicture("t", "d", (), 400)),
        draw_standing(StandingPicture("t", "d", (), 400)),
        draw_timeline(TimePicture("t", "d", (Lane("sales: none recorded", ()),), 400)),
        draw_twin(TwinPicture("t", "d", "2026", "2025", (), 400)),
    ]

    assert "svg" == read(empty[number]).tag.removeprefix(SVG)


def test_marks_differ_by_shape():
    """Each standing has a shape of its own, so that nothing is lost in black and white."""
    shapes = {
        name: sorted(part.tag for part in read(draw_mark(name)).iter())
        for name in ("traced", "unproven", "rejected")
    }

    assert 3 == len({tuple(shape) for shape in shapes.values()})
    with pytest.raises(KeyError):
        draw_mark("unheard of")
    assert {"traced", "unproven", "rejected", "unaccounted", "advice"} == set(MARKS)


def test_a_line_of_200_parents_is_gathered():
    """Two hundred parents become one box, and the parents with a gap stay visible beside it."""
    nodes = tuple(
        LineNode(
            f"t{n}", f"T{n}", mark="unproven" if n in {7, 190} else "", word="gap 1" if n in {7, 190} else ""
        )
        for n in range(200)
    )
    links = tuple((f"t{n}", "lot") for n in range(200))
    layers = (
        LineLayer("Parents", "trees", nodes),
        LineLayer("Lots", "lots", (LineNode("lot", "L1", root=True),)),
    )
    root = read(draw_line(LinePicture("t", "d", layers, links, 500)))

    assert {"T7", "T190", "198 trees", "T0 … T199", "L1"} <= set(words(root))
    assert 2 == words(root).count("gap 1")
    assert 3 == sum(part.get("d", "").count("C") for part in root.iter(f"{SVG}path"))


def test_bags_are_gathered_by_their_picking():
    """Forty bags of two pickings are two boxes that say from which tag to which."""
    bags = tuple(LineNode(f"b{n:02}", f"B{n:02}") for n in range(40))
    picks = (LineNode("h0", "H0"), LineNode("h1", "H1"))
    links = tuple((f"b{n:02}", f"h{n // 20}") for n in range(40))
    layers = (LineLayer("Bags", "bags", bags), LineLayer("Pickings", "pickings", picks))
    root = read(draw_line(LinePicture("t", "d", layers, links, 500)))

    assert {"B00 … B19", "B20 … B39"} <= set(words(root))
    assert 2 == words(root).count("20 bags")
    assert 2 == sum(part.get("d", "").count("C") for part in root.iter(f"{SVG}path"))


def test_a_box_leads_to_its_record():
    """Each record with an anchor is a link, percent signs safe; what stands for several is none."""
    nodes = tuple(LineNode(f"b{n}", f"B{n}", anchor=f"bagging/B {n}%") for n in range(3))
    many = tuple(LineNode(f"t{n}", f"T{n}", anchor=f"trees/T{n}") for n in range(30))
    layers = (LineLayer("Trees", "trees", many), LineLayer("Bags", "bags", nodes))
    picture = LinePicture("t", "d", layers, (), 500)
    linked = read(draw_line(replace(picture, address="#")))

    assert [f"#bagging/B%20{n}%25" for n in range(3)] == [a.get("href") for a in linked.iter(f"{SVG}a")]
    assert "group" == linked.get("role")
    assert [] == list(read(draw_line(picture)).iter(f"{SVG}a"))


def test_links_of_the_line_can_be_seen():
    """The strokes between boxes stand out from paper at least three to one."""
    nodes = (LineNode("a", "A"),), (LineNode("b", "B"),)
    layers = (LineLayer("Trees", "trees", nodes[0]), LineLayer("Bags", "bags", nodes[1]))
    root = read(draw_line(LinePicture("t", "d", layers, (("a", "b"),), 400)))
    (curve,) = (part for part in root.iter(f"{SVG}path") if "C" in part.get("d", ""))

    assert contrast(curve.get("stroke"), "#ffffff") >= 3


@given(st.integers(1, 400), st.integers(2, 20), st.sets(st.integers(0, 399)))
def test_gathering_loses_no_record(count, most, faulty):
    """However many are gathered, each record is either shown or stood for by the gathered box."""
    nodes = tuple(LineNode(f"n{n}", str(n), mark="rejected" if n in faulty else "") for n in range(count))
    shown, stands_for = collapse(LineLayer("Bags", "bags", nodes), most)
    keys = {node.key for node in shown.nodes}

    assert len(shown.nodes) <= max(most, 1)
    assert {node.key for node in nodes} == keys & {node.key for node in nodes} | set(stands_for)
    assert set(stands_for.values()) <= keys


def test_neighbours_of_a_positive_tree():
    """Trees one place or one row away from a positive one stand out; those further away don't."""
    trees = tuple(
        tree(f"{row}{place}", row, str(place), "positive" if (row, place) == ("B", 2) else "negative")
        for row in "ABC"
        for place in (1, 2, 3, 10)
    )

    assert {"A2", "C2", "B1", "B3"} == neighbours_of_positive(trees)
    drawn = read(
        draw_orchard(
            OrchardPicture("t", "d", (OrchardBlock("b", trees, near=neighbours_of_positive(trees)),), 400)
        )
    )
    boxes = [part for part in drawn.iter(f"{SVG}rect") if part.get("stroke-dasharray")]
    assert 4 + 1 == len(boxes)  # and one in the legend


def test_a_finding_is_the_loudest_mark():
    """A tree with a finding stands in a heavy box with its number; the heavier the finding, the heavier."""
    found = {"advice": 0.8, "unproven": 1.4, "rejected": 2}
    for weight, pen in found.items():
        trees = (tree("1", "1", "1", findings=(OrchardFinding(17, weight, "bag B1"),)), tree("2", "1", "2"))
        root = read(draw_orchard(OrchardPicture("t", "d", (OrchardBlock("b", trees),), 400)))
        boxes = [part.get("stroke-width") for part in root.iter(f"{SVG}rect")]

        assert str(pen) == boxes[0]
        assert {"17", "bag B1"} <= set(words(root))


def test_an_unscreened_parent_is_no_quiet_ring():
    """It wears the diamond of what is unproven, and other trees without a result an empty ring."""
    drawn = [
        draw_orchard(
            OrchardPicture(
                "t", "d", (OrchardBlock("b", (tree("1", "1", "1", "not screened", parent=parent),)),), 400
            )
        ).count("<polygon")
        for parent in (False, True)
    ]

    assert 1 == drawn[1] - drawn[0]


@given(st.integers(1, 700), st.integers(1, 40), st.floats(300, 560), st.integers(1, 14))
def test_an_orchard_is_shared_out_among_pages(count, rows, width, letters):
    """No drawing is higher than the page, none of the text smaller than 6.5 points, no tree is lost, and a
    spot leads to every finding."""
    trees = tuple(
        tree(f"{n}".zfill(letters), str(n % rows), str(n), findings=(OrchardFinding(n, "unproven", "bag"),))
        for n in range(count)
    )
    shown: list[str] = []
    blocks = [OrchardBlock("b", trees)]
    for group in share_out(blocks, width, 640):
        picture = OrchardPicture("t", "d", group, width, measure_cell(blocks, width))
        root = read(draw_orchard(picture))
        shown += [one.tree for block in group for one in block.trees]

        assert float(root.get("height").removesuffix("pt")) <= 640
        assert 6.5 <= min(float(part.get("font-size")) for part in root.iter(f"{SVG}text"))
        assert len(find_spots(picture)) == sum(len(block.trees) for block in group)
        assert all(0 <= float(spot.left[:-1]) <= 100 >= float(spot.top[:-1]) for spot in find_spots(picture))
    assert sorted(shown) == sorted(one.tree for one in trees)


def test_trees_without_a_place_have_no_neighbours():
    """A tree whose row nobody wrote down is drawn, and is nobody's neighbour."""
    trees = (tree("1", "", "", "positive"), tree("2", "", ""))

    assert frozenset() == neighbours_of_positive(trees)


def test_rows_stand_in_natural_order():
    """Row 2 comes before row 10."""
    assert ["A1", "A2", "A10", "B1"] == sorted(["A10", "B1", "A2", "A1"], key=natural)


def test_a_raised_figure_is_no_number():
    """A row called 2² is drawn by its name, like any other that is no plain number."""
    trees = (tree("1", "2²", "1²"), tree("2", "2²", "²", "positive"), tree("3", "10", "1"))
    drawn = words(read(draw_orchard(OrchardPicture("t", "d", (OrchardBlock("b", trees),), 400))))

    assert ["Row 2²", "Row 10"] == [word for word in drawn if word.startswith("Row")]
    assert frozenset({"1"}) == neighbours_of_positive(trees)


def test_thousands_of_digits_are_no_number():
    """A place that a slipping hand made endless is a place like any other."""
    trees = (tree("1", "1", "9" * 5_000), tree("2", "2", "9" * 5_000, "positive"))

    assert frozenset({"1"}) == neighbours_of_positive(trees)
    assert ["1", "9" * 5_000] == sorted(["9" * 5_000, "1"], key=natural)


def test_rows_of_one_number_stand_as_recorded():
    """1 and 01 are two rows, and every run draws them in the same order."""
    trees = tuple(tree(row, row, "1") for row in ("2", "01", "1", "001"))
    drawn = words(read(draw_orchard(OrchardPicture("t", "d", (OrchardBlock("b", trees),), 400))))

    assert ["Row 01", "Row 1", "Row 001", "Row 2"] == [word for word in drawn if word.startswith("Row")]


@pytest.mark.parametrize("anchor", ["start", "end"])
def test_a_label_is_cut_to_its_room(anchor):
    """What fits is set whole; what does not ends in an ellipsis and takes no more than its room."""
    whole, cut = (read(label(0, 0, text, 40, size=7, anchor=anchor)).text for text in ("short", "x" * 400))

    assert "short" == whole
    assert cut.endswith("…")
    assert text_width(cut, 7) <= 40


@given(st.lists(st.integers(-(10**9), 10**9), max_size=12))
def test_ledger_steps_stay_on_the_page(changes):
    """Whatever comes and goes, no bar leaves the drawing, not even when stock goes below nothing."""
    steps = tuple(LedgerStep(str(n), change, str(change)) for n, change in enumerate(changes))
    left = LedgerStep("left", sum(changes), "")
    root = read(draw_ledger(LedgerPicture("t", "d", steps, left, None, 400)))

    for bar in root.iter(f"{SVG}rect"):
        assert 0 <= float(bar.get("x")) <= 400.01
        assert float(bar.get("x")) + float(bar.get("width")) <= 401
    assert len(changes) + 1 == sum(1 for _ in root.iter(f"{SVG}rect"))


@given(st.floats(1, 300), st.floats(1, 60), st.booleans())
def test_hatching_stays_inside(width, height, cross):
    """Hatching fills its rectangle and never reaches beyond it."""
    drawn = hatch(10, 20, width, height, cross=cross)
    path = drawn.partition('d="')[2].partition('"')[0]
    numbers = [float(figure) for figure in path.replace("M", " ").replace("L", " ").split()]

    assert all(9.98 <= x <= 10.02 + width for x in numbers[::2])
    assert all(19.98 <= y <= 20.02 + height for y in numbers[1::2])


def test_timeline_marks_a_day_out_of_order():
    """A sale before packing wears a diamond, which the drawing of sound days has not."""
    sound = Lane("2 sales", (date(2026, 5, 1), date(2026, 6, 1)))
    faulty = Lane("1 sale", (date(2026, 5, 1),), (date(2026, 5, 1),))

    assert 0 == draw_timeline(TimePicture("t", "d", (sound,), 400)).count("<polygon")
    assert 1 == draw_timeline(TimePicture("t", "d", (faulty,), 400)).count("<polygon")


def test_a_year_of_nothing_is_cut_out():
    """Two stretches of work a year apart share the room; the axis names both years."""
    days = (date(2025, 2, 1), date(2025, 2, 20), date(2026, 3, 1), date(2026, 3, 20))
    drawn = read(draw_timeline(TimePicture("t", "d", (Lane("4 samples", days),), 500)))
    strokes = [line for line in drawn.iter(f"{SVG}line") if line.get("stroke-width") == "0.9"]
    at = [float(line.get("x1")) for line in strokes]

    assert {"Jan 2025", "Feb 2026"} <= set(words(drawn))
    assert at == sorted(at)
    # Nineteen days are as wide in either stretch.
    assert at[1] - at[0] == pytest.approx(at[3] - at[2], abs=0.02)


@given(st.lists(st.dates(), min_size=1, max_size=30), st.integers(150, 600))
def test_every_day_stands_on_the_time_line(days, width):
    """Whatever days there are, each is drawn right of the words and left of the edge."""
    drawn = read(draw_timeline(TimePicture("t", "d", (Lane("work", tuple(days)),), width)))
    strokes = [line for line in drawn.iter(f"{SVG}line") if line.get("stroke-width") == "0.9"]

    assert len(set(days)) == len(strokes)
    assert all(text_width("work", 7) <= float(line.get("x1")) <= width + 0.01 for line in strokes)


def test_seasons_side_by_side_are_drawn_to_one_scale():
    """The longer of two bars fills the room; what nothing tells has its words and no bar."""
    rows = (TwinRow("Bags", 1.0, 0.25, "152", "38"), TwinRow("Fruit", None, 1.0, "not recorded", "30"))
    root = read(draw_twin(TwinPicture("t", "d", "Season 2026", "Season 2025", rows, 500)))
    widths = [float(bar.get("width")) for bar in root.iter(f"{SVG}rect")]

    assert widths == pytest.approx([widths[0], widths[0] / 4, widths[0]], abs=0.02)
    assert {"Season 2026", "Season 2025", "Bags", "152", "not recorded"} <= set(words(root))


def test_a_glance_holds_both_drawings():
    """The time line stands left of the ledger's bars, neither reaching into the other."""
    timeline = TimePicture("time", "Days.", (Lane("1 sale", (date(2026, 5, 1),)),), 400)
    step = LedgerStep("Packed", 5_000, "+ 5 g")
    drawn = read(
        draw_glance("both", timeline, LedgerPicture("grams", "Grams.", (step,), step, step, 400), 500)
    )
    (group,) = drawn.iter(f"{SVG}g")

    assert "Days. Grams." == drawn.find(f"{SVG}desc").text
    assert "1 sale" in words(drawn)
    assert {"Packed", "+ 5 g", "0 g", "5"} <= {"".join(part.itertext()) for part in group.iter(f"{SVG}text")}
    assert "translate(251 0)" == group.get("transform")


def test_a_count_that_differs_from_the_book_is_named():
    """What a count found less stands in a bar of its own, from the book to the count."""
    left, counted = LedgerStep("By the book", 43_200, "43.2 g"), LedgerStep("Counted", 40_700, "40.7 g")
    off = LedgerStep("Count against book", -2_500, "2.5 g less than the book")
    steps = (LedgerStep("In", 43_200, "+ 43.2 g"),)
    drawn = read(draw_ledger(LedgerPicture("t", "d", steps, left, counted, 400, off)))
    bars = list(drawn.iter(f"{SVG}rect"))

    assert "2.5 g less than the book" in words(drawn)
    assert 4 == len(bars)
    ends = [float(bar.get("x")) + float(bar.get("width")) for bar in bars]
    assert [ends[1], ends[2]] == pytest.approx([ends[3], float(bars[3].get("x"))], abs=0.02)
    assert {"0 g", "10", "20", "30", "40"} <= set(words(drawn))


def test_all_grams_stand_in_one_bar():
    """Each standing has its part of the bar, none of nothing, and its words below."""
    stretches = (("traced", 750, "0.75 g"), ("unproven", 250, "0.25 g"), ("rejected", 0, "0 g"))
    root = read(draw_total(TotalPicture("t", "d", stretches, 400)))

    assert ["300", "100"] == [part.get("width") for part in root.iter(f"{SVG}rect")]
    assert ["0.75 g traced", "0.25 g unproven"] == words(root)


def test_signs_that_xml_cannot_hold_are_replaced():
    """Control signs, half characters and non-characters become U+FFFD; line ends and tabs stay."""
    assert "a\ufffdb\ufffdc\ufffd\td\n&lt;" == escape("a\x1bb\ud800c\uffff\td\n<")
    node = LineNode("k", "L\x00<1>", word="gap\x0b 1", mark="unproven")
    drawn = ET.fromstring(
        draw_line(LinePicture("T\x1b", "D\ufffe", (LineLayer("Lots", "lots", (node,)),), (), 300, ("N\x01",)))
    )
    *_, label_, gap, note = words(drawn)

    assert ("L\ufffd<1>", "gap\ufffd 1", "N\ufffd") == (label_, gap, note)
