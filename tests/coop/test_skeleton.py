"""A co-op's folder laid out: sound as it stands, explained from the schemas, and nothing written over."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from certgen.coop.members.member_list import SOURCES, read_coop
from certgen.coop.skeleton import CoopBeginning, NewMember, check_coop, lay_out_coop

HOLLOW = NewMember("HOLLOW", "Hollow Acre", "0081", date(2019, 3, 15), "archive")
ALDER = NewMember("ALDER", "Alder: the “Bank”", "QR-1", date(2017, 4, 1))
BEGINNING = CoopBeginning("Four Wells", "Quillback", "The office", ("us-nop",), 21, (HOLLOW, ALDER))


def test_what_is_laid_out_can_be_read(tmp_path):
    """Everything that was given, and the places at which members' records are looked for."""
    assert ["coop.yaml", "control.yaml", "README.txt"] == lay_out_coop(tmp_path / "office", BEGINNING)
    coop, errors = read_coop(tmp_path / "office")

    assert () == errors
    assert ("Four Wells", "Quillback", "The office", ("us-nop",), 21) == (
        coop.name, coop.certifier, coop.office, coop.standards, coop.answer_days
    )  # fmt: skip
    assert [
        ("HOLLOW", "Hollow Acre", "0081", "archive", "members/hollow.zip"),
        ("ALDER", "Alder: the “Bank”", "QR-1", "folder", "members/alder"),
    ] == [(one.key, one.name, one.certificate, one.source, one.path) for one in coop.members]
    assert not coop.has_control
    assert [True] * 3 == [
        (tmp_path / "office" / name).is_dir() for name in ("members/alder", "evidence", "members")
    ]


def test_each_list_of_the_control_is_sound_once_its_signs_are_taken_away(tmp_path):
    """As the file says to: then the control is read with the co-op, and no word of it is refused."""
    members = tuple(replace(HOLLOW, key=key, source="folder") for key in ("HOLLOW", "MARROW", "THISTLE"))
    lay_out_coop(tmp_path / "office", replace(BEGINNING, members=members))
    control, list_ = (tmp_path / "office" / name for name in ("control.yaml", "coop.yaml"))
    samples = re.findall(r"^# [a-z]+:$(?:\n#  .*)+", control.read_text(), re.MULTILINE)
    list_.write_text(list_.read_text().replace("# control:", "control:"))
    control.write_text("\n".join(samples).replace("\n# ", "\n").removeprefix("# "))

    assert {"agreements", "certificates", "inspectors", "inspections", "sanctions", "requests"} == set(
        yaml.safe_load(control.read_text())
    )
    coop, errors = read_coop(tmp_path / "office")
    assert ([], True) == ([error.text() for error in errors], coop.has_control)


def test_a_co_op_without_a_member_says_where_the_first_one_goes(tmp_path):
    """The list is there and empty; reading it asks for the first."""
    lay_out_coop(tmp_path / "office", CoopBeginning("Four Wells"))
    text = (tmp_path / "office" / "coop.yaml").read_text()

    assert text.endswith("# Take the [] away with the first member.\nmembers: []\n")
    coop, errors = read_coop(tmp_path / "office")
    assert (None, ["coop.yaml"]) == (coop, [error.file for error in errors])


@pytest.mark.parametrize("held", ["coop.yaml", "anything.txt"])
def test_a_folder_in_use_is_left_alone(tmp_path, held):
    """Whatever is in it, and a file of that name too."""
    (tmp_path / held).write_text("mine")
    with pytest.raises(FileExistsError, match=f"holds {held} already"):
        lay_out_coop(tmp_path, BEGINNING)
    with pytest.raises(FileExistsError, match="name a folder to make"):
        lay_out_coop(tmp_path / held, BEGINNING)
    assert ([held], "mine") == ([path.name for path in tmp_path.iterdir()], (tmp_path / held).read_text())


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"name": "  "}, "needs a name"),
        ({"standards": ("us-nap",)}, "us-nap"),
        ({"answer_days": 0}, "a day at least"),
        ({"members": (HOLLOW, replace(HOLLOW, key="hollow"))}, "two members have the key hollow"),
        ({"members": (replace(HOLLOW, key="a/b"),)}, "is no key"),
        ({"members": (replace(HOLLOW, key=".."),)}, "is no key"),
        ({"members": (replace(HOLLOW, key="Group"),)}, "means the co-op itself"),
        ({"members": (replace(HOLLOW, certificate=" "),)}, "the number of its certificate"),
        ({"members": (replace(HOLLOW, source="post"),)}, "hands in as folder or archive or workbook"),
    ],
)  # fmt: skip
def test_what_can_not_be_written_is_refused(changed, says):
    """In words that say what to write instead."""
    with pytest.raises(ValueError, match=says):
        check_coop(replace(BEGINNING, **changed))


_NAMES = st.text(min_size=1, max_size=30).filter(lambda text: text.strip() and text.isprintable())


@given(_NAMES, _NAMES, _NAMES, st.sampled_from(SOURCES))
def test_any_names_come_through(tmp_path_factory, name, member, certificate, source):
    """Whatever signs are in them; the file keeps to its form and says the same."""
    folder = tmp_path_factory.mktemp("coop") / "office"
    one = NewMember("M1", member, certificate, date(2020, 2, 29), source)
    lay_out_coop(folder, CoopBeginning(name, office=name, members=(one,)))
    read = yaml.safe_load((folder / "coop.yaml").read_text(encoding="utf-8"))

    assert (name.strip(), member.strip(), certificate.strip()) == (
        read["coop"]["name"], read["members"][0]["name"], read["members"][0]["certificate"]
    )  # fmt: skip
    assert () == read_coop(folder)[1]
