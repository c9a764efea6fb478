"""A map in which a person has written keeps her comments and her layout when new answers come in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from certgen.exchange.importing.column_maps import SheetMap, Target
from certgen.exchange.importing.map_files import parse_map
from certgen.exchange.importing.map_splices import renew_map

OLD = """\
# Mine. Don't touch the lots.
sheets:

  Trees:   # since 2024
    table: trees
    constants: {planting: P1}  # the only one
    columns:
      Tree no: {field: tree, drop_prefix: "tree "}
      Sex:
        field: sex
        words:
          # as Grandfather wrote it
          "herm": hermaphrodite
          "f": "?"  # 'f', 3 cells: female?
      Sky: ignore  # who cares
"""


def answered() -> dict[str, SheetMap]:
    """The map with an open word answered and a new one told."""
    maps = parse_map("map", OLD)
    trees = maps["Trees"]
    sex = trees.columns["Sex"]
    assert sex is not None
    words = {**sex.words, "f": "female", "m.": "male"}
    return {"Trees": replace(trees, columns={**trees.columns, "Sex": replace(sex, words=words)})}


def test_a_word_is_exchanged_where_it_stands() -> None:
    """Every other sign stays."""
    new = renew_map(OLD, list(answered().values()))

    assert answered() == parse_map("map", new)
    assert (
        OLD.replace('"f": "?"', '"f": female').replace(
            "      Sky: ignore", '          "m.": male\n      Sky: ignore'
        )
        == new
    )


def test_new_columns_sheets_and_settings_come_behind_the_others() -> None:
    """With what is told of them; what is there is left as it is."""
    trees = answered()["Trees"]
    changed = replace(
        trees,
        dates="dmy",
        decimal="comma",
        constants={"planting": "P2", "sex": "female"},
        columns={**trees.columns, "Row": Target("row"), "Sky": Target("note")},
    )
    lots = SheetMap("Lots", "lots", {"Lot": Target("lot")})

    new = renew_map(OLD, [changed, lots], {("Trees", "Row"): "named like it"})

    assert {"Trees": changed, "Lots": lots} == parse_map("map", new)
    for kept in ("# Mine. Don't touch", "# since 2024", "# the only one", "# as Grandfather", "# who cares"):
        assert kept in new
    assert '"Row": row  # named like it' in new
    assert not new.startswith("# Kept")


@pytest.mark.parametrize(
    "old",
    [
        OLD.replace("      Sky: ignore  # who cares\n", "      Sky: ignore  # who cares"),
        "# mine\nsheets: {Trees: {table: trees, columns: {Tree no: tree}}}  # in braces\n",
        "sheets:\n  Trees:\n    table: trees  # t\n    columns: {}\n",
        "# a\r\nsheets:\r\n  Trees:\r\n    table: trees\r\n    columns:\r\n      Tree no: tree # x\r\n",
        'sheets:\n  Trees:\n    table: trees\n    columns:\n      "a # b":\n        field: tree # c\n',
    ],
)
def test_no_comment_is_lost_however_the_map_is_laid_out(old: str) -> None:
    """Where it can't be put in, the map is written anew with the comments at its head."""
    before = parse_map("map", old)["Trees"]
    changed = replace(
        before, columns={**dict.fromkeys(before.columns), "New": Target("note", words={"-": "ignore"})}
    )

    new = renew_map(old, [changed])

    assert {"Trees": changed} == parse_map("map", new)
    for line in old.splitlines():
        comment = line.rpartition(" #")[2].strip() if " #" in line.replace("a # b", "") else ""
        assert comment in new


def test_a_further_table_that_is_new_is_written_anew() -> None:
    """Its comments stand at the head."""
    trees = answered()["Trees"]
    further = SheetMap("Trees", "blocks", {"Tree no": Target("block")})
    changed = replace(trees, also=(further,))

    new = renew_map(OLD, [changed])

    assert {"Trees": changed} == parse_map("map", new)
    assert new.startswith("# Kept from the map as it was:\n# Mine. Don't touch the lots.\n")
