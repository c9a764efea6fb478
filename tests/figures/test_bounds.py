"""Every public function of the figures, fed whatever fits its signature: a figure or a sentence, no crash.

No OverflowError, no ZeroDivisionError, no NaN, no number of hundreds of digits; a sum that never ends would
keep the test from ending.
"""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import math
import pkgutil
import re
import typing
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import stats

import certgen.figures
from certgen.figures import pools
from certgen.figures.arguments import MOST_COUNTED
from certgen.figures.distributions import chi_square_above
from certgen.figures.germination import range_chance
from certgen.figures.moisture import wet_basis
from certgen.figures.pools import count_pools, largest_pool, plan_cost
from certgen.figures.proportions import bound_after_none, exact_limits, score_limits
from certgen.figures.purity import find_purity
from certgen.figures.sampling import count_items, count_tests, miss_chance
from certgen.figures.validity import last_ship_day

COVERS = ("certgen.figures",)

NUMBERS = st.one_of(
    st.sampled_from(
        [
            0, 1, -1, True, False, 0.0, -0.0, 0.5, 1.0, 1e-300, 5e-324, 1e-30, 1e-16, 1 - 1e-16, 1e16, 1e300,
            math.nan, math.inf, -math.inf, 10**9, 10**15, 10**400, -(10**400),
            Decimal("NaN"), Decimal("sNaN"), Decimal("Infinity"), Decimal("1e-999999"), Decimal("1e9999999"),
            Decimal("0.95"), Fraction(1, 3), Fraction(10**400, 3), Fraction(1, 10**400),
        ]
    ),
    st.integers(), st.integers(0, 500), st.floats(), st.floats(0, 1), st.decimals(), st.fractions(),
)  # fmt: skip
#: What checks arguments and what spreads a table.
UNFED = {"arguments", "tables.replicate_range"}
#: For a plain number: a decimal or a fraction is no whole number and no float, unless it is no number at all.
PLAIN = NUMBERS.filter(
    lambda one: isinstance(one, int | float) or (isinstance(one, Decimal) and one.is_nan())
)
TEXTS = st.one_of(
    st.text(max_size=20), st.sampled_from(["female", "hermaphrodite", "CUH-CP551-8", "1e999999999"])
)

SIMPLE = {
    int: PLAIN, float: PLAIN, Decimal: NUMBERS, Fraction: NUMBERS, str: TEXTS, bool: st.booleans(),
    date: st.dates(), type(None): st.none(),
}  # fmt: skip


def functions():
    """Each public function of the room by its full name, save those of UNFED modules."""
    found = {}
    for module in pkgutil.walk_packages(certgen.figures.__path__, "certgen.figures."):
        if module.name.removeprefix("certgen.figures.") in UNFED:
            continue
        loaded = importlib.import_module(module.name)
        for name, function in inspect.getmembers(loaded, inspect.isroutine):
            if (
                function.__module__ == module.name
                and not name.startswith("_")
                and hasattr(function, "__name__")
            ):
                found[f"{module.name}.{name}"] = function
    return found


def names_of(function):
    """What a module's annotations may speak of, also where they are for the type checker alone."""
    return {
        **vars(typing), **vars(importlib.import_module("collections.abc")), "date": date,
        **vars(inspect.getmodule(function)), "Fraction": Fraction, "Decimal": Decimal,
    }  # fmt: skip


def fitting(kind):
    """Values of a type, hostile ones among them."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if kind in SIMPLE:
        return SIMPLE[kind]
    if origin is typing.Literal:
        return st.sampled_from(inner) | PLAIN if not isinstance(inner[0], str) else st.sampled_from(inner)
    if origin is tuple and inner[-1] is not Ellipsis:
        return st.tuples(*map(fitting, inner))
    if origin in (tuple, list, Sequence, Iterable):
        return st.lists(fitting(inner[0]), max_size=5)
    if origin is frozenset:
        return st.frozensets(fitting(inner[0]), max_size=5)
    if origin in (dict, Mapping):
        return st.dictionaries(fitting(inner[0]), fitting(inner[1]), max_size=4)
    if issubclass(kind, tuple) if inspect.isclass(kind) else False:
        return st.builds(kind, *map(fitting, typing.get_type_hints(kind).values()))
    if dataclasses.is_dataclass(kind):
        hints = typing.get_type_hints(kind, names_of(kind))
        return st.builds(kind, **{name: fitting(hint) for name, hint in hints.items()})
    if inner:  # one of several
        return st.one_of(*map(fitting, inner))
    return None


def arguments(function):
    """A strategy for the arguments of a function; None where it takes a season, a table or a fitted line."""
    if {"DataFrame", "Series", "Season", "Decline"} & set(
        re.findall(r"\w+", " ".join(map(str, function.__annotations__.values())))
    ):
        return None
    hints = typing.get_type_hints(function, names_of(function))
    hints.pop("return", None)
    fits = {name: fitting(hint) for name, hint in hints.items()}
    # What takes any object at all is no figure.
    return None if None in fits.values() else st.fixed_dictionaries(fits)


FUNCTIONS = functions()
TYPED = {name: function for name, function in FUNCTIONS.items() if arguments(function) is not None}


def numbers_in(value):
    """Every number in a result, with where it stands."""
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from numbers_in(getattr(value, field.name))
    elif isinstance(value, (tuple, list)):
        for part in value:
            yield from numbers_in(part)
    elif isinstance(value, Mapping):
        yield from numbers_in(list(value.values()))
    elif isinstance(value, (int, float, Decimal, Fraction)):
        yield value


def test_whatever_a_person_can_type_is_fed():
    """Left out are rooms whose functions take tables of records, or a fitted line."""
    rooms = {name.split(".")[2] for name in FUNCTIONS.keys() - TYPED.keys()}
    typed = {
        "distributions", "germination", "inheritance", "moisture", "pools", "proportions", "purity",
        "sampling", "validity",
    }  # fmt: skip

    assert set() == rooms & typed
    assert len(TYPED) > 70


@pytest.mark.parametrize("name", sorted(TYPED))
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_a_figure_or_a_sentence(name, data):
    """Nothing else comes back, whatever goes in."""
    given_ = data.draw(arguments(TYPED[name]))
    try:
        found = TYPED[name](**given_)
    except ValueError as refusal:
        said = str(refusal)
        assert said.endswith("."), said
        assert len(said) < 400, said
        return
    if inspect.isgenerator(found):
        found = list(found)
    for number in numbers_in(found):
        assert not math.isnan(number), found
        # A whole number can be read, and any other is written with an exponent.
        assert not isinstance(number, int) or abs(number) <= MOST_COUNTED**2, found


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: count_tests(1e-300), "nobody can plan that"),
        (lambda: count_tests(1e-300, 0.95, 1e-300), "nobody can plan that"),
        (lambda: count_pools(1e-300, 10**15), "nobody can plan that"),
        (lambda: count_items(10**15, 10**9), "10,000,000 at most"),
        (lambda: miss_chance(10**7, 10**6, 10**6), "not worked out exactly"),
        (lambda: miss_chance(10**6, 2000, 2000, 0.9), "not worked out exactly"),
        (lambda: exact_limits(3, 10, 0.4, sides=1), "0.5 or more"),
        (lambda: score_limits(3, 10, 0.4, sides=1), "0.5 or more"),
        (lambda: bound_after_none(10, 0.49), "0.5 or more"),
        (lambda: pools.bound_after_none(10, 100, 0.49), "0.5 or more"),
        (lambda: exact_limits(True, 10), "The number found"),
        (lambda: exact_limits(Decimal("NaN"), 10), "The number found"),
        (lambda: wet_basis(20, Decimal("NaN"), 24), "not a number"),
        (lambda: wet_basis(20, 25, True), "not a number"),
        (lambda: find_purity(pure="1e999999999", other=0, inert=0), "not a number"),
        (lambda: range_chance(1, 2, 10**9, 0.5), "10,000 at most"),
        (lambda: chi_square_above(1.0, 10**9), "10,000 at most"),
        (lambda: last_ship_day(date(2026, 1, 1), 10**14), "12,000 at most"),
        (lambda: largest_pool(1e-20), "thousand million"),
        (lambda: plan_cost(10**10, 10**10, 16), "seeds in all"),
    ],
)
def test_what_no_grower_counts_is_refused(ask, words):
    """Each crashed, hung, turned its limits round, or printed hundreds of digits."""
    with pytest.raises(ValueError, match=words):
        ask()


def test_one_sided_limits_keep_their_order_down_to_a_half():
    """At 50 % the two meet around the estimate."""
    for limits in (exact_limits, score_limits):
        found = limits(3, 10, 0.5, sides=1)
        assert found.low <= found.estimate <= found.high


def test_a_large_orchard_is_still_exact():
    """Ten million trees with a thousand faulty ones: scipy's hypergeometric agrees."""
    needed = count_items(10**7, 1000)

    assert (
        stats.hypergeom.pmf(0, 10**7, 1000, needed) <= 0.05 < stats.hypergeom.pmf(0, 10**7, 1000, needed - 1)
    )
