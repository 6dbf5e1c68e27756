"""SFLOAT, the 16-bit decimal number of medical devices (IEEE 11073-20601): 4 bits of exponent, 12 of mantissa.

Both are two's complement; the value is mantissa * 10^exponent. The exponent tells the precision, so 2, 2.0 and 2.00
are three different words, and the value is a `Decimal` that keeps them apart. Five words are no numbers; they are
compared whole, because a mantissa of that kind with another exponent is what some senders mean as a number.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final, Literal

NoNumber = Literal["not a number", "not at this resolution", "above all numbers", "below all numbers", "reserved"]
Sfloat = Decimal | NoNumber

NO_NUMBERS: Final[Mapping[int, NoNumber]] = {
    0x07FF: "not a number",
    0x0800: "not at this resolution",
    0x07FE: "above all numbers",
    0x0802: "below all numbers",
    0x0801: "reserved",
}
LARGEST_MANTISSA: Final = 2045


def sfloat(word: int) -> Sfloat:
    """The number of a 16-bit word, or what it says instead of one."""
    if word in NO_NUMBERS:
        return NO_NUMBERS[word]
    exponent, mantissa = word >> 12, word & 0xFFF
    return Decimal(_signed(mantissa, 12)).scaleb(_signed(exponent, 4))


def is_doubtful(word: int) -> bool:
    """Whether senders disagree about this word: a mantissa kept for what is no number, under another exponent."""
    return word not in NO_NUMBERS and abs(_signed(word & 0xFFF, 12)) > LARGEST_MANTISSA


def word_of(number: Sfloat) -> int:
    """The 16-bit word of a number with the precision that it has, or of what is none.

    Raises
    ------
    ValueError : the number has more digits than a word holds.
    """
    if not isinstance(number, Decimal):
        return next(word for word, meaning in NO_NUMBERS.items() if meaning == number)
    sign, digits, exponent = number.as_tuple()
    mantissa = int("".join(map(str, digits)) or "0") * (-1 if sign else 1)
    if not isinstance(exponent, int) or abs(mantissa) > LARGEST_MANTISSA or not -8 <= exponent <= 7:
        raise ValueError(f"{number} does not fit into 16 bits")
    return (exponent & 0xF) << 12 | (mantissa & 0xFFF)


def _signed(bits: int, width: int) -> int:
    return bits - (1 << width) if bits >> (width - 1) else bits
