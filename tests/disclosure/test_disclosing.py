from __future__ import annotations

from datetime import date

import pytest

from certgen.disclosure.codes import Codes
from certgen.disclosure.disclosing import DisclosureError, disclose_lot, judge_lot
from certgen.disclosure.record_copies import RecordCopier
from certgen.examination import examine
from certgen.records.tables import DISCLOSES, Field, load_season_table, load_tables
from certgen.rules.example_seasons import load_example

ON = date(2026, 10, 31)


def season(tmp_path, example="bag-failed", which="bad"):
    """A small season, examined."""
    return examine(load_example(example, which).write(tmp_path), ON)


@pytest.mark.parametrize("example", ["bag-failed", "bag-in-storm"])
def test_a_finding_stays_and_is_told_in_codes(tmp_path, example):
    """The buyer of a lot that isn't traced reads so, and why, with no number of the grower's."""
    whole = season(tmp_path, example)
    lot = next(name for name, one in whole.lots.items() if one.standing != "traced")
    with disclose_lot(whole, lot) as shown:
        assert judge_lot(whole, lot) == judge_lot(shown, lot)
        assert [gap.rule for gap in whole.gaps_of_lot(lot)] == [gap.rule for gap in shown.gaps]
        told = " ".join(gap.message for gap in shown.gaps)
    numbers = {name for gap in whole.gaps_of_lot(lot) for name in gap.ids} - {lot}
    assert [] == [name for name in numbers if name in told.split()]


def test_the_folder_goes_with_the_block(tmp_path):
    """What was made anew lies nowhere afterwards."""
    whole = season(tmp_path, which="good")
    with disclose_lot(whole, next(iter(whole.lots))) as shown:
        folder = shown.season.folder
        assert folder.is_dir()
    assert not folder.exists()


def test_the_same_records_are_made_anew_the_same(tmp_path):
    """Twice the same bytes; for another buyer other codes."""
    whole = season(tmp_path, which="good")
    lot = next(iter(whole.lots))

    def text(party):
        with disclose_lot(whole, lot, party) as shown:
            return next(iter(shown.season.sources.values())).text

    assert text("A") == text("A")
    assert text("A") != text("B").replace("Made anew for B", "Made anew for A")


def test_no_list_keeps_the_order_of_the_numbers(tmp_path):
    """Bags of a picking stand in the order of their codes, which says nothing of their own."""
    whole = season(tmp_path, which="good")
    with disclose_lot(whole, next(iter(whole.lots))) as shown:
        lists = shown.season.table("harvests")["bags"].tolist()
    assert lists
    assert [sorted(bags, key=lambda bag: int(bag.rpartition("-")[2])) for bags in lists] == [
        list(bags) for bags in lists
    ]


def test_a_field_that_says_nothing_is_withheld():
    """Whoever adds a field and forgets to declare it gives nothing away."""
    fields = {"a": Field("a", "text"), "b": Field("b", "mapping", fields={"c": Field("c", "text")})}
    shown = {"d": Field("d", "text", discloses="fact")}
    copier = RecordCopier(Codes(b"k", {}), {}, {}, str)
    copied = copier.copy({**fields, **shown}, {"a": "x", "b": {"c": "y"}, "d": "z", "e": "no such field"})
    assert {"d": "z"} == copied


def test_no_field_is_left_undeclared():
    """What a new field may show is decided when it is added: write `x-discloses` beside its `x-evidence`."""

    def leaves(one, at):
        inner = one.fields or (one.item.fields if one.item else {})
        if not inner:
            yield at, one.discloses
        for name, part in inner.items():
            yield from leaves(part, f"{at}.{name}")

    assert [] == [
        at
        for table in (load_season_table(), *load_tables().values())
        for name, one in table.fields.items()
        for at, discloses in leaves(one, f"{table.name}.{name}")
        if not discloses
    ]


def test_every_field_is_declared_by_a_known_word():
    """A misspelt declaration would withhold what should be seen, without a word."""

    def kinds(one):
        yield one.discloses
        for inner in (*one.fields.values(), *([one.item] if one.item else [])):
            yield from kinds(inner)

    fields = [
        one for table in (load_season_table(), *load_tables().values()) for one in table.fields.values()
    ]
    said = {kind.partition(":")[0] for one in fields for kind in kinds(one)}
    assert said <= {*DISCLOSES, ""}


def test_records_that_cannot_be_read_are_not_disclosed(tmp_path):
    """Nobody knows what is in them, so nothing is given out."""
    folder = load_example("bag-failed", "good").write(tmp_path)
    (folder / "more.yaml").write_text("lots:\n  - lot: [\n", encoding="utf-8")
    whole = examine(folder, ON)
    with pytest.raises(DisclosureError, match="can't be read"), disclose_lot(whole, next(iter(whole.lots))):
        pass


def test_a_lot_that_would_come_out_otherwise_is_refused(tmp_path, monkeypatch):
    """Where what may be shown tells less against the lot, nothing is written."""
    from certgen.disclosure import disclosing

    whole = season(tmp_path)
    lot = next(name for name, one in whole.lots.items() if one.standing != "traced")
    choose = disclosing.choose_rows

    def leave_out(result, name, party, measure):
        return choose(result, name, party, measure) | {"bagging": set(), "harvests": set()}

    monkeypatch.setattr(disclosing, "choose_rows", leave_out)
    with pytest.raises(DisclosureError, match="come out the same"), disclose_lot(whole, lot):
        pass
