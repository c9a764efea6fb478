from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from certgen.lineage.graph import Node
from certgen.lineage.node_lists import NodeList, Union
from certgen.records.columns import Columns

BAGS = Columns({"bag": np.array([f"B{at}" for at in range(6)], dtype=object)}, size=6)


def nodes(*rows: int) -> NodeList:
    """Some of six bags."""
    return NodeList.of_table("bagging", BAGS).at(np.array(rows, dtype="int64"))


def test_a_list_is_the_records_at_its_rows() -> None:
    """In the order of the rows, and as good as a tuple of them."""
    some = nodes(4, 1)

    assert (Node("bagging", "B4"), Node("bagging", "B1")) == tuple(some) == some
    assert 2 == len(some)
    assert Node("bagging", "B1") == some[1]
    assert (Node("bagging", "B1"),) == some[1:]
    assert hash(nodes(4, 1)) == hash(some)
    assert nodes(1, 4) != some


def test_a_list_without_rows_holds_nothing() -> None:
    """A round whose numbers no record bears."""
    assert not nodes()
    assert () == tuple(nodes())


@given(st.lists(st.lists(st.integers(0, 5), max_size=8), max_size=5), st.booleans())
def test_a_union_holds_each_record_of_its_lists_once(lists: list[list[int]], plain: bool) -> None:
    """Whether they come as rows of one table or as tuples."""
    union, every = Union(), nodes()
    for rows in lists:
        some = every.at(np.array(rows, dtype="int64"))
        union.add(tuple(some) if plain else some)
    found = union.list()

    assert len(set(found)) == len(found)
    assert {f"B{row}" for rows in lists for row in rows} == {node.id for node in found}
