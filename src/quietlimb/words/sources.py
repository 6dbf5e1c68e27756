"""Sources and their standing in readable words, so that every rule shows how far it was checked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.values import Standing
from quietlimb.words.language import _, mark

# citation key -> short name; `practice` and `Quietlimb` are told by the standing alone
NAMES: Mapping[str, str] = {
    "AAFP": "AAFP",
    "ACVIM2007": "ACVIM 2007",
    "ACVIM2018": "ACVIM 2018",
    "AcvimForum2023Tape": "ACVIM Forum 2023",
    "AmJVetRes2020": "Am J Vet Res 2020",
    "BHS1993": "BHS 1993",
    "Belew1999": "Belew 1999",
    "Bijsmans2013": "Bijsmans 2013",
    "Bright2002": "Bright 2002",
    "Caney2021": "Caney 2021",
    "Carter2014": "Carter 2014",
    "Chetboul2003": "Chetboul 2003",
    "Chetboul2010": "Chetboul 2010",
    "CienciaRural2012": "Ciência Rural 2012",
    "ClinicalReview2022": "clinical review 2022",
    "Costa2015": "Costa 2015",
    "ESH2010": "ESH 2010",
    "Egner2007": "Egner 2007",
    "Elliott2001": "Elliott 2001",
    "FelineReview2021": "feline review 2021",
    "Franchino2024": "Franchino 2024",
    "Gardner1981": "Gardner 1981",
    "Hanas2021": "Hanås 2021",
    "Henik1997": "Henik 1997",
    "GUM2008": "GUM 2008",
    "IEC80601": "IEC 80601-2-30",
    "IRIS2015": "IRIS 2015",
    "IRIS2019": "IRIS 2019",
    "ISFM2017": "ISFM 2017",
    "ISO81060part2": "ISO 81060-2",
    "ISO81060part3": "ISO 81060-3",
    "ISO81060Part1": "ISO 81060-1:2007",
    "JAAHA2015": "JAAHA 2015",
    "Jacob2003": "Jacob 2003",
    "LeBlanc2011": "LeBlanc 2011",
    "Lin2006": "Lin 2006",
    "Maggio2000": "Maggio 2000",
    "Marino2011": "Marino 2011",
    "Miller2023": "Miller 2023",
    "Montgomery2009": "Montgomery 2009",
    "OIMLR16Part1": "OIML R 16-1:2002",
    "OIMLR16Part2": "OIML R 16-2:2002",
    "Rondeau2013": "Rondeau 2013",
    "Sastravaha2020": "Sastravaha 2020",
    "Seliskar2013": "Seliškar 2013",
    "StepienColumn": "Stepien",
    "Surman2012": "Surman 2012",
    "Syme2002": "Syme 2002",
    "TopCompanion2021": "Top Companion Anim Med 2021",
    "Universal2018": "AAMI/ESH/ISO 2018",
    "VetSci2025": "Vet Sci 2025",
    "Visits2021": "Front Vet Sci 2021",
    "WSAVA2018": "WSAVA 2018",
    "Wernick2012": "Wernick 2012",
}

_STANDINGS: Mapping[Standing, str] = {
    "published": mark("({source}, checked against a copy)"),
    "as quoted": mark("({source}, seen only as quoted by another text)"),
    "from memory": mark("({source}, from memory: not checked against the print)"),
    "common practice": mark("(common practice, without a printed source)"),
    "derived": mark("(calculated by us from {source})"),
    "invented": mark("(our own choice, after {source})"),
}

OURS = "Quietlimb"
_STANDINGS_OF_OURS: Mapping[Standing, str] = {
    "published": mark("(our own)"),
    "as quoted": mark("(our own)"),
    "from memory": mark("(our own)"),
    "common practice": mark("(our own)"),
    "derived": mark("(calculated by us)"),
    "invented": mark("(our own choice)"),
}
_ALL_OURS = mark("All our own choice.")

_ALL_BY: Mapping[Standing, str] = {
    "published": mark("All by {source}, checked against a copy."),
    "as quoted": mark("All by {source}, seen only as quoted by another text."),
    "from memory": mark("All by {source}, from memory: not checked against the print."),
    "common practice": mark("All by common practice, without a printed source."),
    "derived": mark("All calculated by us from {source}."),
    "invented": mark("All our own choice, after {source}."),
}


_NAMES_OF_STANDINGS: Mapping[Standing, str] = {
    "published": mark("checked against a copy"),
    "as quoted": mark("as quoted by another text"),
    "from memory": mark("from memory"),
    "common practice": mark("common practice"),
    "derived": mark("calculated by us"),
    "invented": mark("our own choice"),
}


def standing_name(standing: Standing) -> str:
    """How far something was checked, in a word or two."""
    return _(_NAMES_OF_STANDINGS[standing])


def source_name(key: str) -> str:
    """Short readable name of a source."""
    return NAMES.get(key, key)


def source_and_standing(source: str, standing: Standing) -> str:
    """Where a rule comes from and how far it was checked.

    For example `(ACVIM 2018, from memory: not checked against the print)`.
    """
    if source == OURS:
        return _(_STANDINGS_OF_OURS[standing])
    return _(_STANDINGS[standing]).format(source=source_name(source))


def sources_and_standings(behind: Sequence[tuple[str, Standing]]) -> str:
    """The same of several figures, in one pair of brackets, each way of saying it once."""
    told = dict.fromkeys(source_and_standing(source, standing)[1:-1] for source, standing in behind)
    return f"({'; '.join(told)})"


def all_by(source: str, standing: Standing) -> str:
    """The same in one sentence about everything in a list."""
    if source == OURS:
        return _(_ALL_OURS)
    return _(_ALL_BY[standing]).format(source=source_name(source))


def day_to_day_source(interpretation: Interpretation) -> str:
    """Where the change from day to day comes from that probabilities of the animal allow for."""
    if interpretation.day_to_day_source is None:
        return _("(as told, or by its own sessions)")
    return source_and_standing(*interpretation.day_to_day_source)


def rules_and_standing(interpretation: Interpretation) -> str:
    """The rule set with the standing of its boundaries: `ACVIM 2018, from memory`."""
    return f"{interpretation.rule_set}, {standing_name(RULE_SETS[interpretation.rules].standing)}"
