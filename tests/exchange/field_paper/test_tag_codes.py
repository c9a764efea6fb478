"""Codes of tags that lead to the desk, and tags that are numbered beforehand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from certgen.exchange.field_paper.labels import LabelError, bag_tags, sample_labels
from certgen.exchange.field_paper.paper_kinds import FieldPaper, set_field_paper
from certgen.exchange.field_paper.tag_codes import mark_tags, number_tags, read_desk

if TYPE_CHECKING:
    from certgen.examination import Result

DESK = "http://192.168.1.20:8017"


def test_without_a_desk_a_tag_s_code_is_its_plain_number(result: Result) -> None:
    """What was printed before and what is printed now is read in the same way."""
    tags = bag_tags(result)

    assert tags == mark_tags(result, tags)
    assert [tag.tree for tag in tags] == [tag.code for tag in tags]


def test_a_tree_s_tag_leads_to_the_tree_s_bags(result: Result) -> None:
    """Its bag's number is written on it by hand, so the code can't know it."""
    tag = mark_tags(result, bag_tags(result)[:1], desk=DESK)[0]

    assert f"{DESK}/bag?tree={tag.tree}" == tag.code
    assert ("Bag", "") in tag.lines


def test_a_numbered_tag_leads_to_its_own_bag(result: Result) -> None:
    """With the tree in it, by which two tags of one number are told apart."""
    tags = mark_tags(result, bag_tags(result, each=2), desk=DESK, first="N-099")

    assert [("Bag", "N-099"), ("Bag", "N-100")] == [tag.lines[1] for tag in tags[:2]]
    assert [f"{DESK}/bag?bag={bag}&tree={tags[0].tree}" for bag in ("N-099", "N-100")] == [
        tag.code for tag in tags[:2]
    ]
    assert len(tags) == len({tag.code for tag in tags})


def test_tags_to_write_on_can_be_numbered_too(result: Result) -> None:
    """Their tree is typed at the desk; unnumbered ones name nothing that a code could lead to."""
    numbered = mark_tags(result, bag_tags(result, blank=2), desk=DESK, first="X1")
    plain = mark_tags(result, bag_tags(result, blank=2), desk=DESK)

    assert [f"{DESK}/bag?bag=X1", f"{DESK}/bag?bag=X2"] == [tag.code for tag in numbered]
    assert ["", ""] == [tag.code for tag in plain]


def test_a_name_that_would_be_another_address_is_escaped(result: Result) -> None:
    """However a bag is called."""
    tag = mark_tags(result, bag_tags(result, blank=1), desk=DESK, first="a&tree=/../1")[0]

    assert f"{DESK}/bag?bag=a%26tree%3D%2F..%2F1" == tag.code


def test_no_number_is_given_twice(result: Result) -> None:
    """One that a bag bears already is refused, and tags of bags on record keep theirs."""
    bag = str(result.season.tables["bagging"]["bag"].tolist()[0])

    with pytest.raises(LabelError, match=f"bag {bag} is on record already"):
        mark_tags(result, bag_tags(result, blank=1), first=bag)
    with pytest.raises(LabelError, match="bear their numbers already"):
        mark_tags(result, bag_tags(result, bags=[bag]), first="Z1")


@pytest.mark.parametrize("first", ["B", "B-", "7" * 13, " B1", "B\n1", "B٣"])
def test_what_can_t_be_counted_on_from_is_refused(first: str) -> None:
    """With a number that can."""
    with pytest.raises(LabelError, match="ends in no number to count on from"):
        number_tags(first, 2, ())


def test_numbers_keep_their_zeros() -> None:
    """And grow where they must."""
    assert ["B-098", "B-099", "B-100"] == number_tags("B-098", 3, ())
    assert ["9", "10"] == number_tags("9", 2, ())


@pytest.mark.parametrize("text", [DESK, f" {DESK}/ ", "http://10.0.0.1:80", "http://[fd00::2]:8017"])
def test_a_desk_is_named_as_it_is_printed(text: str) -> None:
    """With a stroke behind it or none."""
    assert text.strip().rstrip("/") == read_desk(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [("", "no desk's address"), ("192.168.1.20:8017", "no desk's address"),
     ("https://192.168.1.20:8017", "no desk's address"), ("http://192.168.1.20", "no desk's address"),
     ("http://192.168.1.20:0", "no desk's address"), ("http://192.168.1.20:99999", "no desk's address"),
     (f"{DESK}/today", "no desk's address"), (f"{DESK}?token=x", "no desk's address"),
     (f"http://a@{DESK[7:]}", "no desk's address"), (f"{DESK}#a", "no desk's address"),
     ("http://farm.local:8017", "no desk's address"), ("http://192.168.1.20\n:8017", "no desk's address"),
     ("http://127.0.0.1:8017", "finds itself"), ("http://[::1]:8017", "finds itself"),
     ("http://0.0.0.0:8017", "finds itself"), ("http://8.8.8.8:8017", "no address of a private network")],
)  # fmt: skip
def test_what_no_phone_could_reach_is_refused(text: str, says: str) -> None:
    """A name isn't answered to, a token is for this machine only, a public address has no desk."""
    with pytest.raises(LabelError, match=says):
        read_desk(text)


def test_only_tags_lead_to_the_desk(result: Result) -> None:
    """What else is printed says so."""
    assert sample_labels(result)
    for asked in ({"desk": DESK}, {"first": "B1"}):
        with pytest.raises(LabelError, match="only tags"):
            set_field_paper(result, FieldPaper("samples", **asked))


def test_a_tag_has_room_for_an_address(result: Result) -> None:
    """On the smallest label that a tag is printed on."""
    paper = FieldPaper("tags", each=1, size="50x30", desk="http://192.168.100.200:65535", first="B26-20001")

    assert set_field_paper(result, paper).startswith(b"%PDF")
