"""What if a record said something else: the season as it would be then.

A supposition is a pure step from season to season; nothing on disk changes. `tree:17=positive` asks
what a positive result for tree 17 would do, `bag:B-3=torn` what a torn bag would.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from certgen.records import Season

_TREE: Final = ("negative", "positive", "inconclusive", "unscreened")
_SAMPLE: Final = ("negative", "positive", "inconclusive")
_BAG: Final = ("torn", "loose", "gone", "open")
#: Beyond every record, so that a supposed one is shown at the top of its file.
_NOWHERE: Final = 2**31
_WORDS: Final = {"trees": "tree", "screening": "sample", "bagging": "bag"}
_FORMS: Final = (
    f"tree:NUMBER={'|'.join(_TREE)}, sample:NUMBER={'|'.join(_SAMPLE)} or bag:NUMBER={'|'.join(_BAG)}"
)


class SuppositionError(ValueError):
    """A supposition that can't be read or that names a record that isn't there; says what would do."""


def suppose(season: Season, supposition: str) -> Season:
    """The season as it would be. Raises SuppositionError with a way out."""
    subject, equals, state = supposition.partition("=")
    kind, colon, identifier = subject.partition(":")
    change = {"tree": _suppose_tree, "sample": _suppose_sample, "bag": _suppose_bag}.get(kind.strip())
    if not equals or not colon or change is None:
        message = f"'{supposition}' isn't something that can be supposed. Write {_FORMS}."
        raise SuppositionError(message)
    return change(season, identifier.strip(), state.strip())


def _suppose_tree(season: Season, tree: str, state: str) -> Season:
    """A tree whose samples all say one thing, or that has none."""
    _check(season, "trees", tree, state, _TREE)
    frame = season.table("screening")
    pools = list(frame["trees"].tolist())
    own = frame["tree"].eq(tree).fillna(False).astype(bool)
    frame = frame.assign(
        tree=frame["tree"].mask(own),
        trees=_tuples([tuple(one for one in pool if one != tree) for pool in pools], frame),
    )
    if state != "unscreened":
        frame = _append_sample(frame, tree, state, season)
    return season.with_tables({"screening": frame})


def _suppose_sample(season: Season, sample: str, state: str) -> Season:
    _check(season, "screening", sample, state, _SAMPLE)
    frame = season.table("screening")
    named = frame["sample"].eq(sample)
    return season.with_tables({"screening": frame.assign(result=frame["result"].mask(named, state))})


def _suppose_bag(season: Season, bag: str, state: str) -> Season:
    _check(season, "bagging", bag, state, _BAG)
    frame = season.table("bagging")
    named = frame["bag"].eq(bag)
    if state == "open":
        changed = frame.assign(stage=frame["stage"].mask(named, "open"))
    else:
        check = {"condition": state, "date": frame.loc[named, "covered"].iloc[0].date()}
        checks = [
            (*given, check) if hit else given
            for given, hit in zip(frame["checks"].tolist(), named.tolist(), strict=True)
        ]
        changed = frame.assign(checks=_tuples(checks, frame))
    return season.with_tables({"bagging": changed})


def _check(season: Season, table: str, identifier: str, state: str, states: tuple[str, ...]) -> None:
    word = _WORDS[table]
    if season.row(table, identifier) is None:
        message = f"No record bears the {word} number '{identifier}', so nothing can be supposed of it."
        raise SuppositionError(message)
    if state not in states:
        message = f"A {word} can't be supposed '{state}'. Choose one of: {', '.join(states)}."
        raise SuppositionError(message)


def _tuples(values: list[tuple[Any, ...]], frame: DataFrame) -> Series[Any]:
    import pandas as pd

    return pd.Series(values, index=frame.index, dtype=object)


def _append_sample(frame: DataFrame, tree: str, state: str, season: Season) -> DataFrame:
    """The samples with one more, like the season's others, which stands at no line of any file.

    It is taken before the tree's first flower was covered: what is supposed is its result.
    """
    import pandas as pd

    bagging = season.table("bagging")
    first = bagging.loc[bagging["tree"].eq(tree), "covered"].min()
    start = pd.Timestamp(season.details.start)
    taken = start if pd.isna(first) else first - pd.Timedelta(days=1)
    like = season.table("screening")
    like = like[like["result"].notna()].head(1).reset_index(drop=True).reindex([0])
    days = pd.Series([taken], dtype="datetime64[s]")
    row = like.assign(
        sample=_texts(f"supposed:{tree}"),
        tree=_texts(tree),
        trees=_tuples([()], like),
        mark=_texts(tree),
        collected=days,
        submitted=days,
        reported=days,
        controls=_texts("passed"),
        result=_texts(state),
        file=_texts(season.details.file),
        at=pd.Series([_NOWHERE]),
        **{name: _tuples([()], like) for name in ("targets", "evidence") if not like["sample"].notna().all()},
    )
    kinds = {name: kind for name, kind in frame.dtypes.items() if name != "file"}
    together = pd.concat([frame.astype({"file": "str"}), row[frame.columns]], ignore_index=True)
    return together.astype(kinds)


def _texts(text: str) -> Series[Any]:
    import pandas as pd

    return pd.Series([text], dtype="str")
