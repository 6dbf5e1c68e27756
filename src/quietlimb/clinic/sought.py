"""Names as they are searched: without capitals and accents, the same on every database.

What a row is found by is kept folded in a column of its own, because what a database calls the same letter differs from
one to the other, and one in a plain locale knows no letters but those of ASCII.
"""

from __future__ import annotations

import unicodedata

MOST_WORDS = 5
# Letters that no accent makes, as they are typed where a keyboard lacks them.
_OTHERWISE = str.maketrans(
    {
        "\u00e6": "ae",
        "\u0153": "oe",
        "\u00f8": "o",
        "\u0142": "l",
        "\u0111": "d",
        "\u00f0": "d",
        "\u00fe": "th",
        "\u0131": "i",
    }
)
_SPELT_OUT = str.maketrans({"\u00e4": "ae", "\u00f6": "oe", "\u00fc": "ue", "\u00e5": "aa"})


def plain(text: str) -> str:
    """Small letters without accents."""
    folded = unicodedata.normalize("NFC", text).casefold().translate(_OTHERWISE)
    apart = unicodedata.normalize("NFKD", folded)
    return "".join(letter for letter in apart if not unicodedata.combining(letter)).casefold()


def sought_by(*texts: str) -> str:
    """What a row is found by: each text folded, also with its umlauts spelt out, and a number without its gaps."""
    found: list[str] = []
    for text in texts:
        spelt = unicodedata.normalize("NFC", text).casefold().translate(_SPELT_OUT)
        digits = "".join(letter for letter in text if letter.isdigit())
        found += [plain(text), plain(spelt), digits if len(digits) > 3 else ""]
    return " ".join(dict.fromkeys(filter(None, found)))


def words_of(letters: str) -> list[str]:
    """The words that were typed, folded."""
    return [word for word in plain(letters.replace("\0", " ")).split()[:MOST_WORDS] if word]


def is_found(letters: str, *texts: str) -> bool:
    """Whether every word that was typed stands in one of these texts."""
    kept = sought_by(*texts)
    return all(word in kept for word in words_of(letters))
