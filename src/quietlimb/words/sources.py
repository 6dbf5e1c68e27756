"""Sources and their standing in readable words, so that every rule shows how far it was checked."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.values import Standing
from quietlimb.words.language import _, mark

# citation key -> short name; `practice` and `Quietlimb` are told by the standing alone
NAMES: Mapping[str, str] = {
    "ACVIM2018": "ACVIM 2018",
    "AcvimForum2023Tape": "ACVIM Forum 2023",
    "Belew1999": "Belew 1999",
    "Caney2021": "Caney 2021",
    "Chetboul2010": "Chetboul 2010",
    "ClinicalReview2022": "clinical review 2022",
    "Lin2006": "Lin 2006",
    "StepienColumn": "Stepien, quoted in a clinical column",
    "Wernick2012": "Wernick 2012",
    "WSAVA2018": "WSAVA 2018",
}

_STANDINGS: Mapping[Standing, str] = {
    "published": mark("({source}, checked against a copy)"),
    "from memory": mark("({source}, from memory: not checked against the print)"),
    "common practice": mark("(common practice, without a printed source)"),
    "derived": mark("(calculated by us from {source})"),
    "invented": mark("(our own choice, after {source})"),
}

_ALL_BY: Mapping[Standing, str] = {
    "published": mark("All by {source}, checked against a copy."),
    "from memory": mark("All by {source}, from memory: not checked against the print."),
    "common practice": mark("All by common practice, without a printed source."),
    "derived": mark("All calculated by us from {source}."),
    "invented": mark("All our own choice, after {source}."),
}


def source_name(key: str) -> str:
    """Short readable name of a source."""
    return NAMES.get(key, key)


def source_and_standing(source: str, standing: Standing) -> str:
    """Where a rule comes from and how far it was checked.

    For example `(ACVIM 2018, from memory: not checked against the print)`.
    """
    return _(_STANDINGS[standing]).format(source=source_name(source))


def all_by(source: str, standing: Standing) -> str:
    """The same in one sentence about everything in a list."""
    return _(_ALL_BY[standing]).format(source=source_name(source))
