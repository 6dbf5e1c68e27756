"""Whom to measure although the pressure is normal, and how often, cats and dogs.

| who                                         | how often       | source    |
|---------------------------------------------|-----------------|-----------|
| cats with an illness or a drug of the list  | 3 to 6 months   | ISFM 2017 |
| dogs with an illness or a drug of the list  | 3 to 6 months   | ACVIM 2018|
| animals with another illness that goes with | no days named   | practice  |
| high pressure                               |                 |           |
| cats of 9 years and more                    | once a year     | ACVIM 2018|
| cats from 3 to 10 years                     | once a year     | ISFM 2017 |
| cats of 11 years and more                   | 6 to 12 months  | ISFM 2017 |
| young healthy dogs                          | not by routine  | ACVIM 2018|

The table is from memory: neither print was at hand. An animal with an illness of the list is also measured when that is
found. A feline-care programme that [Caney2021] quotes wants healthy cats from 7 years on measured every 6 to 12
months, so the texts do not agree. Ages are half open: a cat is 10 until its eleventh birthday. No text gives a routine
for other healthy animals. Any sign of organ damage asks for a measurement now (from memory, ACVIM 2018); measuring once
before the anaesthesia of an unwell or old animal is common practice. That an animal whose pressure is high at visits
alone stays under watch is too; how often is our choice. Months are taken as 30 days, a year as 365.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from quietlimb.engine.circumstances import Species
from quietlimb.engine.standards.causes import Condition
from quietlimb.engine.standards.rule_set import Window
from quietlimb.engine.units import DAYS_PER_YEAR
from quietlimb.engine.values import Cited

ScreeningCode = Literal["at-risk", "older-cat", "adult-cat", "young-dog"]

_ACVIM, _ISFM = "ACVIM2018", "ISFM2017"
_PLACE = "screening"


def _days(value: float, source: str) -> Cited:
    return Cited(value, "day", source, _PLACE, "from memory")


def _years(value: float, source: str) -> Cited:
    return Cited(value, "year", source, _PLACE, "from memory")


AT_RISK_CAT = Window(earliest=_days(90.0, _ISFM), latest=_days(180.0, _ISFM))
AT_RISK_DOG = Window(earliest=_days(90.0, _ACVIM), latest=_days(180.0, _ACVIM))
# "Once a year", "at least every 12 months": the texts name no earliest day.
A_MONTH_BEFORE_THE_YEAR_IS_OVER = Cited(335.0, "day", "Quietlimb", "a month before the year is over", "invented")
YEARLY = Window(earliest=A_MONTH_BEFORE_THE_YEAR_IS_OVER, latest=_days(365.0, _ACVIM))
YEARLY_ISFM = Window(earliest=A_MONTH_BEFORE_THE_YEAR_IS_OVER, latest=_days(365.0, _ISFM))
HALF_YEARLY_TO_YEARLY = Window(earliest=_days(180.0, _ISFM), latest=_days(365.0, _ISFM))
OLDER_CAT_FROM = _years(9.0, _ACVIM)
ADULT_CAT_FROM_ISFM = _years(3.0, _ISFM)
OLDER_CAT_FROM_ISFM = _years(11.0, _ISFM)
SIGNS = Cited(0.0, "day", _ACVIM, "screening, any sign of organ damage", "from memory")
BEFORE_ANAESTHESIA = Cited(1.0, "sessions", "practice", "before anaesthesia, unwell or old", "common practice")
_PROGRAMME = "a feline-care programme that it quotes"
HEALTHY_CAT_FROM = Cited(7.0, "year", "Caney2021", _PROGRAMME, "published")
HEALTHY_CAT = Window(
    earliest=Cited(180.0, "day", "Caney2021", _PROGRAMME, "published"),
    latest=Cited(365.0, "day", "Caney2021", _PROGRAMME, "published"),
)
_WATCHED = "under watch, as often as an animal at risk; no text names days"
HIGH_AT_VISITS = Window(
    earliest=Cited(90.0, "day", "Quietlimb", _WATCHED, "invented"),
    latest=Cited(180.0, "day", "Quietlimb", _WATCHED, "invented"),
)
NO_ROUTINE = Cited(0.0, "sessions", _ACVIM, "screening, healthy young dogs", "from memory")

# Illnesses that put an animal on the list. Of dogs an adrenal mass is printed: it is one of the two tumours here.
AT_RISK: Mapping[Species, frozenset[Condition]] = {
    "cat": frozenset(
        {"kidney-disease", "hyperthyroidism", "hyperaldosteronism", "phaeochromocytoma", "hyperadrenocorticism"}
    ),
    "dog": frozenset(
        {
            "kidney-disease",
            "protein-loss",
            "hyperadrenocorticism",
            "diabetes",
            "phaeochromocytoma",
            "hyperaldosteronism",
        }
    ),
}

# Illnesses that go with high pressure in print, or lead there by the kidneys, and stand on no list of whom to measure.
BESIDE_THE_LIST: Mapping[Species, frozenset[Condition]] = {
    "cat": frozenset({"acute-kidney-injury", "protein-loss", "diabetes"}),
    "dog": frozenset({"acute-kidney-injury"}),
}
WITH_ILLNESS = Cited(1.0, "sessions", "practice", "an illness that goes with high pressure", "common practice")


@dataclass(frozen=True, slots=True, kw_only=True)
class Screening:
    """Who an animal of normal pressure is, and when it is measured again.

    from_years : where age decides [year]; None otherwise
    window     : None where no routine is asked for
    cited      : the number behind it, with source and standing
    """

    code: ScreeningCode
    from_years: Cited | None = None
    window: Window | None
    cited: Cited


# The oldest first. The chosen rule set's own ages where it prints any; otherwise those of ACVIM 2018.
_AGES: Mapping[str, tuple[tuple[ScreeningCode, Cited, Window], ...]] = {
    _ISFM: (
        ("older-cat", OLDER_CAT_FROM_ISFM, HALF_YEARLY_TO_YEARLY),
        ("adult-cat", ADULT_CAT_FROM_ISFM, YEARLY_ISFM),
    ),
    _ACVIM: (("older-cat", OLDER_CAT_FROM, YEARLY),),
}


def is_at_risk(species: Species, conditions: Iterable[Condition], drugs: Iterable[str]) -> bool:
    """Whether an illness of the list, or any class of drug that can raise the pressure, is in the record."""
    return bool(AT_RISK[species] & set(conditions)) or any(True for _ in drugs)


def has_illness_beside_the_list(species: Species, conditions: Iterable[Condition]) -> bool:
    """Whether an illness that goes with high pressure, but stands on no list of whom to measure, is in the record."""
    return bool(BESIDE_THE_LIST[species] & set(conditions))


def screening(
    species: Species,
    source: str,
    *,
    years: float | None = None,
    at_risk: bool = False,
    young: bool = False,
) -> Screening | None:
    """When an animal of normal pressure is measured again; None where no text at hand says.

    Parameters
    ----------
    source  : citation key of the chosen rule set
    years   : age today; a cat that comes of the youngest age within its window is on the list already. [year]
    at_risk : an illness or a drug that goes with high pressure
    young   : young and healthy
    """
    if at_risk:
        window = AT_RISK_CAT if species == "cat" else AT_RISK_DOG
        return Screening(code="at-risk", window=window, cited=window.latest)
    if species == "dog":
        return Screening(code="young-dog", window=None, cited=NO_ROUTINE) if young else None
    if years is None:
        return None
    ages = _AGES.get(source, _AGES[_ACVIM])
    found = next((each for each in ages if years >= each[1].value), None)
    youngest = ages[-1]
    if found is None and years + youngest[2].latest.value / DAYS_PER_YEAR >= youngest[1].value:
        found = youngest
    if found is None:
        return None
    code, from_years, window = found
    return Screening(code=code, from_years=from_years, window=window, cited=window.latest)
