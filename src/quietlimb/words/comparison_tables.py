"""Tables of a comparison: bias and verdicts by range, categories against each other, and what could not be told."""

from __future__ import annotations

import math
from collections.abc import Mapping

from quietlimb.agreement.criteria import Judgement
from quietlimb.agreement.summary import Comparison
from quietlimb.words.categories import category_name
from quietlimb.words.comparison import criterion_name, criterion_value, interval_words, verdict_name
from quietlimb.words.language import _, mark

# Thirds are of these pairs and no pressures that are low or high; only bounds that were given make them so.
_THIRDS: Mapping[str, str] = {
    "low": mark("lowest third"),
    "normal": mark("middle third"),
    "high": mark("highest third"),
}
_RANGES: Mapping[str, str] = {"low": mark("low"), "normal": mark("normal"), "high": mark("high")}

_FIGURES: Mapping[str, str] = {
    "bias": mark("bias"),
    "against_average": mark("slope of the difference on the mean of both"),
    "against_reference": mark("slope of the difference on the reference"),
    "limits": mark("limits of agreement"),
    "repeatability_tested": mark("repeatability of the tested method"),
    "repeatability_reference": mark("repeatability of the reference"),
    "deming": mark("Deming's line"),
    "passing_bablok": mark("Passing and Bablok's line"),
    "correlation": mark("correlation"),
    "concordance": mark("concordance"),
    "intraclass": mark("intraclass correlation"),
    "deviation": mark("total deviation index and coverage"),
    "categories": mark("risk category"),
    "trending": mark("changes"),
}

RANGE_HEADER = (mark("range"), mark("mmHg"), mark("bias"), mark("pairs"), mark("animals"))
VERDICT_HEADER = (mark("criterion"), mark("reference, mmHg"), mark("found"), mark("verdict"))


def range_rows(found: Comparison) -> list[tuple[str, str, str, str, str]]:
    """Bias by range of the mean of both, as `RANGE_HEADER` has it."""
    return [
        (
            range_name(each.name, found),
            range_span(each.low, each.high),
            "-" if each.bias is None else interval_words(each.bias, signed=True),
            str(each.pairs),
            str(each.animals),
        )
        for each in found.bias_by_bounds or found.bias_by_third
    ]


def verdict_rows(judgement: Judgement, found: Comparison) -> list[tuple[str, str, str, str]]:
    """The criteria that hold in each range of the reference, as `VERDICT_HEADER` has it; empty where none does."""
    return [
        (
            criterion_name(each),
            _("{range} ({span})").format(range=range_name(part.name, found), span=range_span(part.low, part.high)),
            criterion_value(each),
            verdict_name(each.verdict),
        )
        for part in judgement.ranges
        for each in part.judged
    ]


def range_name(name: str, found: Comparison) -> str:
    """Of a third of the pairs, or of a range between bounds that were given."""
    return _((_THIRDS if found.bias_by_bounds is None else _RANGES)[name])


def range_span(low: float, high: float) -> str:
    """From where to where it goes."""
    if not math.isfinite(low):
        return _("under {high:.0f}").format(high=high)
    if not math.isfinite(high):
        return _("{low:.0f} or more").format(low=low)
    return _("{low:.0f} to {high:.0f}").format(low=low, high=high)


def category_rows(found: Comparison) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Header and rows of the pairs by category of the reference (rows) and of the tested method (columns).

    Both are empty where there is no table; categories that no pair fell into are left out.
    """
    table = found.categories
    if table is None:
        return (), []
    used = [k for k in range(len(table.names)) if table.counts[k].any() or table.counts[:, k].any()]
    names = [category_name(table.names[k]) for k in used]
    header = (_("reference, then tested"), *names)
    return header, [(names[i], *(str(int(table.counts[k][j])) for j in used)) for i, k in enumerate(used)]


def missing_sentences(found: Comparison) -> list[str]:
    """Which figures these pairs do not give, each reason once."""
    reasons: dict[str, list[str]] = {}
    for each in found.missing:
        reasons.setdefault(f"{each.says}; {each.remedy}", []).append(_(_FIGURES[each.name]))
    return [_("No {figures}: {why}.").format(figures=", ".join(names), why=why) for why, names in reasons.items()]
