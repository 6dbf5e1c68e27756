"""The 16-bit decimal number of medical devices."""

from __future__ import annotations

from decimal import Decimal

import pytest

from quietlimb.exchange.sfloat import LARGEST_MANTISSA, NO_NUMBERS, is_doubtful, sfloat, word_of


@pytest.mark.parametrize(
    ("word", "text"),
    [
        (0x0002, "2"),
        (0xF014, "2.0"),
        (0xE0C8, "2.00"),
        (0x1002, "2E+1"),
        (0x2002, "2E+2"),
        (0x00C8, "200"),
        (0x04D2, "1234"),
        (0x0B2E, "-1234"),
    ],
)
def test_published_words(word: int, text: str) -> None:
    """A word is its number, with its precision; the number is its word.

    Oracle: published, the table of the HL7 Personal Health Device guide (page on FLOAT and SFLOAT). No tolerance.
    """
    assert str(sfloat(word)) == text
    assert word_of(Decimal(text)) == word


@pytest.mark.parametrize(
    ("word", "meaning"),
    [
        (0x07FF, "not a number"),
        (0x0800, "not at this resolution"),
        (0x07FE, "above all numbers"),
        (0x0802, "below all numbers"),
        (0x0801, "reserved"),
    ],
)
def test_words_that_are_no_numbers(word: int, meaning: str) -> None:
    """The five special words are told as what they are.

    Oracle: published, the same page.
    """
    assert sfloat(word) == meaning
    assert word_of(meaning) == word


def test_every_word_is_something() -> None:
    """Each of the 65,536 words has a value; those without doubt are written back as themselves.

    Oracle: by construction, two's complement by Python's own integers.
    """
    for word in range(2**16):
        found = sfloat(word)
        if word in NO_NUMBERS:
            continue
        mantissa = int.from_bytes((word << 4 & 0xFFF0).to_bytes(2, "big"), "big", signed=True) >> 4
        exponent = int.from_bytes((word >> 8 & 0xF0).to_bytes(1, "big"), "big", signed=True) >> 4
        assert found == Decimal(mantissa) * Decimal(10) ** exponent
        assert is_doubtful(word) == (abs(mantissa) > LARGEST_MANTISSA)
        if not is_doubtful(word):
            assert word_of(found) == word


@pytest.mark.parametrize("text", ["2046", "1e8", "1e-9", "NaN", "120.55"])
def test_a_number_that_does_not_fit_is_refused(text: str) -> None:
    """More digits or a larger exponent than a word has are an error, not a rounding.

    Oracle: by construction.
    """
    with pytest.raises(ValueError, match="does not fit"):
        word_of(Decimal(text))
