"""Quantities as people write them: a number and a unit.

The text stays as typed. Beside it stands the value in the unit that we compute with: whole
milligrams for mass, °C, seconds, millimetres, square metres and per cent. Conversion factors are
the exact ones of the international yard and pound (1 lb = 453.59237 g, 1 in = 25.4 mm).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from functools import lru_cache
from types import MappingProxyType
from typing import Final

#: The most that one record may weigh, a thousand tonnes: millions of such weights still add up to a whole
#: number of 64 bits, and thousands to an exact float.
MOST_MG: Final = 10**12

_FACTORS: Final = MappingProxyType(
    {
        "mass": {
            "mg": Decimal(1),
            "g": Decimal(1000),
            "kg": Decimal(1_000_000),
            "t": Decimal(1_000_000_000),
            "oz": Decimal("28349.523125"),
            "lb": Decimal("453592.37"),
            "lbs": Decimal("453592.37"),
        },
        "length": {
            "mm": Decimal(1),
            "cm": Decimal(10),
            "m": Decimal(1000),
            "km": Decimal(1_000_000),
            "in": Decimal("25.4"),
            "ft": Decimal("304.8"),
            "yd": Decimal("914.4"),
            "mi": Decimal(1609344),
        },
        "duration": {
            "s": Decimal(1),
            "min": Decimal(60),
            "h": Decimal(3600),
            "d": Decimal(86_400),
            "wk": Decimal(604_800),
        },
        "percent": {"%": Decimal(1)},
        "area": {
            "m2": Decimal(1),
            "m²": Decimal(1),
            "ha": Decimal(10_000),
            "ac": Decimal("4046.8564224"),
            "acre": Decimal("4046.8564224"),
            "acres": Decimal("4046.8564224"),
            "ft2": Decimal("0.09290304"),
            "ft²": Decimal("0.09290304"),
        },
        "temperature": {"C": Decimal(1), "°C": Decimal(1), "F": Decimal(1), "°F": Decimal(1)},
    }
)
_WORDS: Final = MappingProxyType(
    {
        "milligram": "mg",
        "milligrams": "mg",
        "gram": "g",
        "grams": "g",
        "kilogram": "kg",
        "kilograms": "kg",
        "kilo": "kg",
        "kilos": "kg",
        "ounce": "oz",
        "ounces": "oz",
        "pound": "lb",
        "pounds": "lb",
        "sec": "s",
        "second": "s",
        "seconds": "s",
        "minute": "min",
        "minutes": "min",
        "hour": "h",
        "hours": "h",
        "hr": "h",
        "hrs": "h",
        "day": "d",
        "days": "d",
        "week": "wk",
        "weeks": "wk",
        "inch": "in",
        "inches": "in",
        "feet": "ft",
        "mile": "mi",
        "miles": "mi",
        "metre": "m",
        "metres": "m",
        "meter": "m",
        "meters": "m",
        "percent": "%",
        "hectare": "ha",
        "hectares": "ha",
        "sq ft": "ft2",
        "sq m": "m2",
    }
)
_EXAMPLES: Final = MappingProxyType(
    {
        "mass": "412 g, 2.4 kg or 14.5 oz",
        "length": "32 mm or 1.25 in",
        "duration": "7 h, 3 min or 2 d",
        "percent": "8.5 %",
        "area": "0.4 ha or 1 acre",
        "temperature": "24 °C or 75 °F",
    }
)
#: The suffix of the computed column that stands beside a typed quantity.
SUFFIXES: Final = MappingProxyType(
    {"mass": "mg", "length": "mm", "duration": "s", "percent": "pct", "area": "m2", "temperature": "c"}
)
_FORM: Final = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*((?:sq )?[^\s0-9.,+-]\S*)?")
_DIGITS: Final = 18


class QuantityError(ValueError):
    """The text is not a quantity of the kind asked for; the message says how to write one."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity: `text` as typed, `value` and `unit` as read, `si` in the unit computed with.

    `si` is an int of milligrams for masses and a float otherwise (°C, s, mm, m², %).
    """

    text: str
    value: Decimal
    unit: str
    si: int | float


@lru_cache(maxsize=65_536)
def parse_quantity(text: str, kind: str) -> Quantity:
    """Read one quantity of a kind (`mass`, `temperature`, `length`, `duration`, `percent`, `area`).

    Masses are rounded to the nearest whole milligram. Raises `QuantityError`.
    """
    shown = text if len(text) <= 40 else text[:37] + "…"
    value, unit = _split(text, shown, _EXAMPLES[kind])
    factors = _FACTORS[kind]
    factor = factors.get(unit)
    if factor is None:
        lowered = _WORDS.get(unit.lower(), unit.lower())
        hint = f"did you mean {lowered}?" if lowered in factors else f"write one of {', '.join(factors)}"
        raise QuantityError(f"'{shown}' has no unit of {kind} that is known here; {hint}")
    if kind == "temperature":
        celsius = (value - 32) * 5 / 9 if unit.endswith("F") else value
        if celsius < Decimal("-273.15"):
            raise QuantityError(f"'{shown}' is colder than anything can be")
        return Quantity(text, value, unit, float(celsius))
    if value < 0:
        raise QuantityError(f"'{shown}' is below nothing; write it without the minus")
    if kind != "mass":
        return Quantity(text, value, unit, float(value * factor))
    milligrams = int((value * factor).to_integral_value(ROUND_HALF_EVEN))
    if milligrams > MOST_MG:
        raise QuantityError(f"'{shown}' is more than a season can hold; check the unit")
    return Quantity(text, value, unit, milligrams)


def _split(text: str, shown: str, example: str) -> tuple[Decimal, str]:
    """The number and the unit of a quantity as typed."""
    match = _FORM.fullmatch(text.strip().replace("−", "-"))
    if match is None:
        if re.search(r"[0-9],[0-9]", text):
            raise QuantityError(
                f"'{shown}' has a comma: write a point for decimals and nothing between thousands"
            )
        raise QuantityError(f"'{shown}' is not a number and a unit; write it like {example}")
    number, unit = match.groups()
    if unit is None:
        raise QuantityError(f"'{shown}' has no unit; write it like {example}")
    if len(number) > _DIGITS:
        raise QuantityError(f"'{shown}' has more digits than a scale can show; write it like {example}")
    return Decimal(number), _WORDS.get(unit, unit.replace("º", "°"))


def grams(milligrams: int) -> Decimal:
    """The same mass in grams, exactly."""
    return Decimal(int(milligrams)).scaleb(-3)


def format_mass(milligrams: int) -> str:
    """A mass for a sentence or a table cell: grams with no needless zeros, thousands set apart.

    `412000` → `412 g`, `1_250_500` → `1 250.5 g` (with a narrow no-break space).
    """
    whole, rest = divmod(abs(int(milligrams)), 1000)
    sign = "−" if milligrams < 0 else ""
    decimals = f"{rest:03d}".rstrip("0")
    return f"{sign}{whole:,}".replace(",", "\u202f") + (f".{decimals}" if decimals else "") + "\u00a0g"
