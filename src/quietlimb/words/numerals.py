"""Numbers as they stand in sentences: shares as percent, days as weeks or months where that is how people say it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from quietlimb.engine.standards.acvim_2007 import UP_TO_TWO_MONTHS
from quietlimb.engine.standards.screening import YEARLY
from quietlimb.words.language import _, mark, plural

_MONTH, _YEAR = 30, 365
# Windows whose first day no text names and is our own: told as their texts do, for we would lend it their name.
_AS_PRINTED: Mapping[tuple[float, float], str] = {
    YEARLY.days: mark("in about a year"),
    UP_TO_TWO_MONTHS.days: mark("within two months"),
}
_MOST_DECIMALS = 6


def with_percent(numbers: Mapping[str, float]) -> dict[str, float]:
    """The numbers, each also under `<name>_percent` a hundredfold, for sentences that tell a share."""
    return {**numbers, **{f"{name}_percent": 100.0 * value for name, value in numbers.items()}}


def days(within_days: tuple[float, float]) -> str:
    """When to do something: `today`, `in 1 to 3 days`, `in 4 to 8 weeks`, `in 3 to 6 months`.

    Weeks where both ends are whole weeks; months from 90 days on where both are whole months of 30 days, or a year.
    """
    if within_days in _AS_PRINTED:
        return _(_AS_PRINTED[within_days])
    earliest, latest = within_days
    if latest == 0:
        return _("today")
    whole_months = latest % _MONTH == 0 or latest == _YEAR
    if earliest % _MONTH == 0 and whole_months and earliest >= 3 * _MONTH:
        earliest, latest = earliest / _MONTH, 12.0 if latest == _YEAR else latest / _MONTH
        if earliest == latest:
            return _("in {latest:g} months").format(latest=latest)
        return _("in {earliest:g} to {latest:g} months").format(earliest=earliest, latest=latest)
    if earliest % 7 == 0 and latest % 7 == 0 and earliest > 0:
        earliest, latest = earliest / 7, latest / 7
        if earliest == latest:
            return plural("in {latest:g} week", "in {latest:g} weeks", latest).format(latest=latest)
        return _("in {earliest:g} to {latest:g} weeks").format(earliest=earliest, latest=latest)
    if earliest == 0:
        return plural("within {latest:g} day", "within {latest:g} days", latest).format(latest=latest)
    if earliest == latest:
        return plural("in {latest:g} day", "in {latest:g} days", latest).format(latest=latest)
    return _("in {earliest:g} to {latest:g} days").format(earliest=earliest, latest=latest)


def decimals_beside(value: float, boundaries: Collection[float], least: int = 0) -> int:
    """With how many decimals a pressure is shown so that rounding never puts it across a boundary: 159.96 under 160 is
    not shown as 160.0."""
    for decimals in range(least, _MOST_DECIMALS):
        if all((float(f"{value:.{decimals}f}") >= edge) == (value >= edge) for edge in boundaries):
            return decimals
    return _MOST_DECIMALS


def percent(probability: float) -> str:
    """A probability in whole percent; never 0 % or 100 % of what is only nearly so."""
    told = f"{100.0 * probability:.0f}"
    if told == "0" and probability > 0.0:
        return "< 1 %"
    if told == "100" and probability < 1.0:
        return "> 99 %"
    return f"{told} %"
