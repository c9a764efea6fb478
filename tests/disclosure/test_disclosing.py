from __future__ import annotations

from datetime import date

import pytest

from certgen.disclosure.disclosing import DisclosureError, disclose_lot, judge_lot
from certgen.examination import examine
from certgen.rules.example_seasons import load_example

ON = date(2026, 10, 31)


def season(tmp_path, example="bag-failed", which="bad"):
    """A small season, examined."""
    return examine(load_example(example, which).write(tmp_path), ON)


def test_a_finding_stays_and_is_told_in_codes(tmp_path):
    """The buyer of a rejected lot reads that it is rejected, and why, with no number of the grower's."""
    whole = season(tmp_path)
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
