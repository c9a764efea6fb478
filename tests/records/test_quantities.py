from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from certgen.records.quantities import (
    SUFFIXES,
    QuantityError,
    format_mass,
    grams,
    parse_quantity,
)


@pytest.mark.parametrize(
    ("kind", "text", "si"),
    [
        ("mass", "412 g", 412_000),
        ("mass", "412g", 412_000),
        ("mass", " 412  g ", 412_000),
        ("mass", "1 mg", 1),
        ("mass", "1.2 kg", 1_200_000),
        ("mass", "1 t", 1_000_000_000),
        ("mass", "1 oz", 28_350),
        ("mass", "14.5 oz", 411_068),
        ("mass", "1 lb", 453_592),
        ("mass", "2 lbs", 907_185),
        ("mass", "3 pounds", 1_360_777),
        ("mass", "1 ounce", 28_350),
        ("mass", "5 grams", 5_000),
        ("mass", "2 kilograms", 2_000_000),
        ("mass", "2.4 kilos", 2_400_000),
        ("mass", "0 g", 0),
        ("mass", "0.0004 g", 0),
        ("mass", "0.0005 g", 0),
        ("mass", "0.0015 g", 2),
        ("temperature", "24 °C", 24.0),
        ("temperature", "24 C", 24.0),
        ("temperature", "24ºC", 24.0),
        ("temperature", "75 °F", 23.88888888888889),
        ("temperature", "32 F", 0.0),
        ("temperature", "-40 F", -40.0),
        ("temperature", "−40 F", -40.0),
        ("temperature", "+5 C", 5.0),
        ("length", "32 mm", 32.0),
        ("length", "1.25 in", 31.75),
        ("length", "3.2 cm", 32.0),
        ("length", "400 m", 400_000.0),
        ("length", "2 km", 2_000_000.0),
        ("length", "1 ft", 304.8),
        ("length", "1 yd", 914.4),
        ("length", "1 mi", 1_609_344.0),
        ("length", "2 inches", 50.8),
        ("duration", "3 min", 180.0),
        ("duration", "7 h", 25_200.0),
        ("duration", "2 d", 172_800.0),
        ("duration", "90 s", 90.0),
        ("duration", "2 weeks", 1_209_600.0),
        ("duration", "5 days", 432_000.0),
        ("duration", "1.5 hours", 5_400.0),
        ("percent", "8.5 %", 8.5),
        ("percent", "8.5%", 8.5),
        ("percent", "8 percent", 8.0),
        ("area", "0.4 ha", 4_000.0),
        ("area", "1 acre", 4046.8564224),
        ("area", "2 ac", 8093.7128448),
        ("area", "100 m2", 100.0),
        ("area", "100 m²", 100.0),
        ("area", "100 sq ft", 9.290304),
        ("area", "100 ft²", 9.290304),
    ],
)
def test_units(kind: str, text: str, si: float) -> None:
    """Every unit, in the units computed with: mg, °C, mm, s, per cent, m²."""
    quantity = parse_quantity(text, kind)
    assert si == quantity.si
    assert text == quantity.text
    assert (int if kind == "mass" else float) is type(quantity.si)


def test_the_most_that_a_record_may_weigh() -> None:
    """A thousand tonnes are read, to the milligram."""
    assert 10**12 == parse_quantity("1000 t", "mass").si


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        ("mass", "412", "'412' has no unit; write it like 412 g, 2.4 kg or 14.5 oz"),
        ("mass", "g", "'g' is not a number and a unit"),
        ("mass", "", "'' is not a number and a unit"),
        ("mass", "0,5 kg", "'0,5 kg' has a comma: write a point for decimals and nothing between thousands"),
        ("mass", "1,000 g", "has a comma"),
        ("mass", "1 000 g", "is not a number and a unit"),
        ("mass", "1e3 g", "'1e3 g'"),
        ("mass", ".5 g", "is not a number and a unit"),
        ("mass", "5. g", "is not a number and a unit"),
        ("mass", "-1 g", "'-1 g' is below nothing; write it without the minus"),
        ("mass", "−1 g", "'−1 g' is below nothing"),
        ("mass", "1 l", "has no unit of mass that is known here; write one of mg, g, kg, t, oz, lb"),
        ("mass", "1 KG", "has no unit of mass that is known here; did you mean kg?"),
        ("mass", "1 Pounds", "did you mean lb?"),
        ("mass", "1 g 2", "is not a number and a unit"),
        ("mass", "١٢ g", "is not a number and a unit"),
        ("mass", "9999999999 t", "is more than a season can hold; check the unit"),
        ("mass", "1000.000000001 t", "is more than a season can hold; check the unit"),
        ("mass", "1" * 30 + " g", "has more digits than a scale can show"),
        ("mass", "nan g", "is not a number and a unit"),
        ("temperature", "24", "'24' has no unit; write it like 24 °C or 75 °F"),
        ("temperature", "24 K", "has no unit of temperature that is known here"),
        ("temperature", "-274 C", "'-274 C' is colder than anything can be"),
        ("temperature", "-460 F", "is colder than anything can be"),
        ("temperature", "100 g", "has no unit of temperature"),
        ("length", "3'", "has no unit of length"),
        ("duration", "3 m", "has no unit of duration"),
        ("duration", "1:30", "has no unit of duration that is known here; write one of s, min, h, d, wk"),
        ("percent", "8.5", "'8.5' has no unit; write it like 8.5 %"),
        ("percent", "8,5 %", "has a comma"),
        ("area", "1 km2", "has no unit of area"),
    ],
)
def test_what_is_no_quantity(kind: str, text: str, says: str) -> None:
    """Anything else is refused with the text and a way to write it."""
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, kind)
    assert says in str(caught.value)


def test_a_long_text_is_quoted_in_part() -> None:
    """A message stays readable whatever was typed."""
    with pytest.raises(QuantityError) as caught:
        parse_quantity("x" * 1_000_000, "mass")
    assert len(str(caught.value)) < 200


AMOUNTS = st.decimals(0, 99_999, places=3, allow_nan=False, allow_infinity=False)


@given(AMOUNTS)
def test_a_mass_in_grams_is_exact(amount: Decimal) -> None:
    """Thousandths of a gram are whole milligrams, so sums are exact."""
    milligrams = parse_quantity(f"{amount} g", "mass").si
    assert Fraction(amount) * 1000 == milligrams
    assert amount == grams(int(milligrams))


@given(AMOUNTS, st.sampled_from([("oz", Fraction(28349523125, 1000000)), ("lb", Fraction(45359237, 100))]))
def test_pounds_and_ounces_round_to_the_nearest_milligram(
    amount: Decimal, unit: tuple[str, Fraction]
) -> None:
    """The exact international factor, off by half a milligram at most."""
    name, factor = unit
    assert abs(parse_quantity(f"{amount} {name}", "mass").si - Fraction(amount) * factor) <= Fraction(1, 2)


@given(st.integers(-(10**12), 10**12))
def test_a_formatted_mass_says_the_same(milligrams: int) -> None:
    """Written for a page and read again, a mass is the same mass."""
    text = format_mass(milligrams)
    plain = text.replace("\u202f", "").replace("\u00a0", " ").replace("−", "-")
    number = plain.removesuffix(" g")
    assert Decimal(milligrams) == Decimal(number) * 1000
    assert not number.endswith("0") or "." not in number


@pytest.mark.parametrize(
    ("milligrams", "text"),
    [
        (412_000, "412\u00a0g"),
        (1_250_500, "1\u202f250.5\u00a0g"),
        (0, "0\u00a0g"),
        (-5, "−0.005\u00a0g"),
        (1_234_567_890, "1\u202f234\u202f567.89\u00a0g"),
    ],
)  # fmt: skip
def test_masses_for_a_page(milligrams: int, text: str) -> None:
    """Grams without needless zeros, thousands set apart, nothing that breaks over a line."""
    assert text == format_mass(milligrams)


@given(st.text(max_size=30), st.sampled_from(sorted(SUFFIXES)))
def test_any_text_is_a_quantity_or_an_error(text: str, kind: str) -> None:
    """Nothing else ever comes out: no other exception, and no value that isn't finite."""
    try:
        quantity = parse_quantity(text, kind)
    except QuantityError:
        return
    assert quantity.si == quantity.si
    assert abs(quantity.si) < float("inf")
    if kind != "temperature":
        assert quantity.si >= 0


@given(
    st.from_regex(r"[+-]?[0-9]{1,25}(\.[0-9]{1,25})?", fullmatch=True),
    st.sampled_from(["", " ", "  ", "\t", "\n"]),
    st.sampled_from(["g", "kg", "oz", "lb", "C", "°F", "mm", "in", "h", "d", "%", "ha", "sq ft", "x", ""]),
    st.sampled_from(sorted(SUFFIXES)),
)
def test_numbers_of_any_size(number: str, gap: str, unit: str, kind: str) -> None:
    """The same for what looks like a quantity, up to numbers that no scale shows."""
    test_any_text_is_a_quantity_or_an_error.hypothesis.inner_test(f"{number}{gap}{unit}", kind)
