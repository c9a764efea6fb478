from __future__ import annotations

import json

import yaml

from certgen.disclosure.file_cuts import CutFile, cut_file

KEPT = {"B-1", "B-3", "T1"}


def cut(text: str, **kept: set[int]) -> CutFile:
    """A file cut to some records, of whose names only KEPT are of the line."""

    def cut_text(_tables: tuple[str, ...], text: str) -> str | None:
        return "B-1 to B-3" if text == "B-1 to B-9" else text if text in KEPT else None

    return cut_file(text, "x.yaml", kept, cut_text, "lot L")


TREES = """\
# All of the orchard.
trees:
  # An old one.
  - {tree: T1, planting: P1}
  # Of another line.
  - tree: T2
    planting: P2
  - tree: T3

  # Not right above.

  - tree: T4   # still small
    planting: P1
    note: |
      leans

      a little
# The end.
"""


def test_every_line_of_what_is_kept_stays_where_it_stood():
    """The other lines are empty, but for one that says how many records stood there."""
    made = cut(TREES, trees={0, 3})
    lines, was = made.text.split("\n"), TREES.split("\n")

    assert [at for at, line in enumerate(lines) if line and line != was[at]] == [5]
    assert lines[5] == "  # left out: 2 trees that are not of lot L’s line"
    assert [at for at, line in enumerate(lines) if line and line == was[at]] == [1, 2, 3, 11, 12, 13, 14, 16]
    assert len(was) == len(lines)


def test_comments_stay_right_above_a_kept_record_and_inside_it():
    """Of all others nobody knows what they speak of."""
    comments = [line.partition("#")[2] for line in cut(TREES, trees={0, 3}).text.split("\n") if "#" in line]

    assert comments == [" An old one.", " left out: 2 trees that are not of lot L’s line", " still small"]


def test_a_table_of_which_nothing_is_kept_leaves_a_word():
    """Its name goes with it, so that no reader looks for a list."""
    made = cut("trees:\n  - tree: T1\nbagging:\n  - bag: B-9\n", trees={0})

    assert yaml.safe_load(made.text) == {"trees": [{"tree": "T1"}]}
    assert made.text.split("\n")[2] == "# left out: 1 bag that is not of lot L’s line"


def test_a_file_of_which_nothing_is_kept_is_empty():
    """Then it isn't written at all."""
    assert "" == cut(TREES).text


def test_the_season_is_kept_whole():
    """Whose season it is belongs to every lot."""
    text = "season:\n  label: x\n  # said by the certifier\n  crop: papaya\ntrees: []\n"

    assert yaml.safe_load(cut(text).text) == {"season": {"label": "x", "crop": "papaya"}}


ROUND = """\
rounds:
  - round: R1
    bags: [B-1 to B-9, B-8]
    harvests:
      - H1
      - H2
    exceptions:
      - {about: [B-7], outcome: dropped}
      - about:
          - B-8
          - B-1
        outcome: dropped
    by: KV
"""


def test_a_list_names_only_what_is_of_the_line():
    """A range ends with the last that is; what names nothing of the line goes, and each cut is said."""
    made = cut(ROUND, rounds={0}).text

    assert yaml.safe_load(made) == {
        "rounds": [
            {
                "round": "R1",
                "bags": ["B-1 to B-3"],
                "exceptions": [{"about": ["B-1"], "outcome": "dropped"}],
                "by": "KV",
            }
        ]
    }
    lines = made.split("\n")
    assert lines[2] == "    bags: [B-1 to B-3]  # cut to what is of lot L’s line"
    assert lines[3] == "    # left out: harvests, of which none is of lot L’s line"
    assert [lines[at].strip() for at in (4, 5)] == ["", ""]
    assert lines[-2] == "    by: KV"
    assert len(lines) == len(ROUND.split("\n"))


def test_dashes_need_no_indentation():
    """A list may stand right below its name, and any entry of it may go."""
    text = (
        "rounds:\n- round: R1\n  bags:\n  - B-1\n  - B-9\n  - B-3\n  trees:\n  - T1\n- round: R2\n"
        "  bags:\n  - B-9\n  - B-8\n  - B-1\n"
    )
    first = {"round": "R1", "bags": ["B-1", "B-3"], "trees": ["T1"]}

    assert yaml.safe_load(cut(text, rounds={0, 1}).text)["rounds"] == [
        first,
        {"round": "R2", "bags": ["B-1"]},
    ]
    assert yaml.safe_load(cut(text, rounds={1}).text)["rounds"] == [{"round": "R2", "bags": ["B-1"]}]


def test_a_file_in_braces_is_cut_as_well():
    """JSON is YAML, and a file may be nothing else."""
    text = json.dumps({
        "trees": [{"tree": "T1"}, {"tree": "T2"}, {"tree": "T3"}],
        "bagging": [{"bag": "B-9"}],
        "rounds": [{"round": "R1", "bags": ["B-8", "B-1"], "trees": ["T2"], "by": "KV"}],
    })  # fmt: skip
    made = cut(text, trees={0, 2}, rounds={0})

    assert yaml.safe_load(made.text) == {
        "trees": [{"tree": "T1"}, {"tree": "T3"}],
        "rounds": [{"round": "R1", "bags": ["B-1"], "by": "KV"}],
    }


def test_the_last_record_in_braces_may_go():
    """No comma is left over where a reader wouldn't have one."""
    text = cut('{"trees": [{"tree": "T1"}, {"tree": "T2"}]}', trees={0}).text

    assert text == '{"trees": [{"tree": "T1"}]}\n# left out: 1 tree that is not of lot L’s line'


def test_a_first_field_beside_the_dash_is_emptied():
    """A record whose list stands beside its dash keeps its dash."""
    text = "rounds:\n  - bags:\n      - B-9\n      - B-8\n    round: R1\n"

    assert yaml.safe_load(cut(text, rounds={0}).text) == {"rounds": [{"bags": [], "round": "R1"}]}


def test_texts_are_told_apart_by_whether_all_of_their_record_stays():
    """What a cut record and a lost one say is shared; a paper named there tells of other lots."""
    text = "rounds:\n  - {round: R1, bags: [B-9, B-1], evidence: a.txt}\n  - {round: R2, evidence: b.txt}\n"
    made = cut(text, rounds={0})

    assert ("a.txt" in made.stays, "b.txt" in made.stays) == (True, False)
    assert {"a.txt", "b.txt"} <= made.shared


def test_windows_line_ends_survive():
    """A file from another system keeps its own."""
    made = cut(TREES.replace("\n", "\r\n"), trees={0, 3}).text

    assert "\r\n" in made
    assert made.count("\n") == made.count("\r\n") == TREES.count("\n")
