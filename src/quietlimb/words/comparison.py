"""A comparison in sentences, and the paragraph for the methods section of a paper."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from quietlimb.agreement.criteria import Judged, Judgement, Verdict
from quietlimb.agreement.interval import Interval
from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.plan import Analysis, Plan, PlanDeviation
from quietlimb.agreement.recruitment import Recruitment
from quietlimb.agreement.schemes import SCHEMES
from quietlimb.agreement.shares import Share, share_if_all
from quietlimb.agreement.summary import Comparison
from quietlimb.agreement.synchrony import Reason
from quietlimb.agreement.trending import WANTED
from quietlimb.agreement.window_rule import Rule
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.words.arterial_line import line_sentences
from quietlimb.words.language import _, mark, plural
from quietlimb.words.numerals import percent
from quietlimb.words.sources import source_and_standing

AGREEMENT_IS_NO_TRUTH = mark("Agreement with another cuff is no agreement with the artery: two methods may err alike.")
CAUTIONS = (
    mark("Anaesthetised animals are not awake ones, and one species is not another: a method is compared for each."),
    mark("A conversion from these pairs, or a subtraction of the bias, is no way round a criterion that was not met."),
)

LINE_NOT_TOLD = mark("Nothing is told of the catheter's line: one that rings or is off its zero tells no truth.")

VERDICTS: Mapping[Verdict, str] = {
    "passes": mark("met"),
    "passes-crossing": mark("met, but its interval reaches over the limit"),
    "fails-crossing": mark("not met, but its interval reaches over the limit"),
    "fails": mark("not met"),
    "not-enough-animals": mark("too few"),
    "not-judged": mark("not judged"),
}

_BRIEF: Mapping[Verdict, str] = {
    **VERDICTS,
    "passes-crossing": mark("met, interval over"),
    "fails-crossing": mark("not met, interval over"),
}

_TRUTHS: Mapping[str, str] = {
    "single": mark("one pair of each animal"),
    "constant": mark("several values of each animal while its pressure stood still"),
    "changing": mark("several pairs of each animal while its pressure changed"),
}

_MEASURES: Mapping[str, str] = {
    "bias": mark("mean difference"),
    "sd": mark("SD of the differences"),
    "sd-all-pairs": mark("SD of all differences"),
    "sd-of-animal-means": mark("SD of the animals' means"),
    "correlation": mark("correlation"),
    "share-within": mark("share within {band:g} mmHg"),
    "two-of-three-within": mark("two of 5, 10, 15 mmHg"),
    "animals": mark("animals"),
    "pairs": mark("pairs"),
    "most-pairs-of-an-animal": mark("most pairs of one animal"),
    "effective-pairs": mark("effective pairs"),
    "reference-at-most": mark("share at {band:g} mmHg or less"),
    "reference-at-least": mark("share at {band:g} mmHg or more"),
    "animals-with-two-of-three-within": mark("two pairs within {band:g} mmHg"),
    "animals-with-none-within": mark("no pair within {band:g} mmHg"),
    "publication": mark("refereed paper"),
}
_SHARES = ("share-within", "two-of-three-within", "reference-at-most", "reference-at-least")
_COUNTS = (
    "animals",
    "pairs",
    "most-pairs-of-an-animal",
    "animals-with-two-of-three-within",
    "animals-with-none-within",
)

REASONS: Mapping[str, str] = {
    "tested-failed": mark("the cuff told no pressure"),
    "no-window": mark("no deflation was found, so there is no window"),
    "few-beats": mark("whole beats in the window: {beats:.0f}, and {wanted:.0f} are wanted"),
    "pulses-differ": mark(
        "the pulse in the artery ({artery_per_min:.0f} a minute) is not that in the cuff ({cuff_per_min:.0f})"
    ),
}

_WINDOWS: Mapping[str, str] = {
    "deflation": mark("all whole beats from the top of the inflation to the end of the deflation"),
    "before": mark("all whole beats of the {seconds:g} s that ended 1 s before the inflation"),
    "after": mark("all whole beats of the {seconds:g} s from 1 s after the deflation on"),
    "around": mark(
        "all whole beats of the {seconds:g} s before the inflation and after the deflation, each a second away"
    ),
}

_DEVIATIONS: Mapping[str, str] = {
    "tested": mark("the tested method"),
    "reference": mark("the reference"),
    "animals": mark("animals"),
    "readings": mark("pairs of an animal"),
    "truth": mark("what the true pressure did between the pairs"),
    "reference_is": mark("kind of the reference"),
    "quantities": mark("pressures"),
    "schemes": mark("criteria"),
    "bounds": mark("low and high range"),
    "error_ratio": mark("ratio of the error variances"),
    "confidence": mark("confidence of the intervals"),
    "rule": mark("beats that the cuff is held against"),
    "data-before-plan": mark("day of the first pair, against the day of the plan"),
}


def cautions_after(rows: PairRows) -> list[str]:
    """What has to be known beside the figures of any comparison."""
    found = [_(each) for each in CAUTIONS]
    if rows.reference_is != "intra-arterial":
        return [_(AGREEMENT_IS_NO_TRUTH), *found]
    return found if any(row.line is not None for row in rows.rows) else [_(LINE_NOT_TOLD), *found]


def interval_words(interval: Interval, digits: int = 1, *, signed: bool = False) -> str:
    """`-3.2 (-5.0 to -1.4)`, or the value alone where there is no interval."""
    sign = "+" if signed else ""
    form = f"{sign}z.{digits}f"  # z: what rounds to nothing has no minus
    value = format(interval.estimate, form)
    if not (math.isfinite(interval.low) and math.isfinite(interval.high)):
        return _("{value} (no interval)").format(value=value)
    return f"{value} ({interval.low:{form}} to {interval.high:{form}})".replace(" to ", _(" to "))


def animals_words(count: int) -> str:
    """`1 animal`, `8 animals`."""
    return plural(mark("{n} animal"), mark("{n} animals"), count).format(n=count)


def determinations_words(count: int) -> str:
    """`1 determination`, `24 determinations`."""
    return plural(mark("{n} determination"), mark("{n} determinations"), count).format(n=count)


def pairs_words(pairs: int, animals: int) -> str:
    """`34 pairs of 9 animals`."""
    told = plural(mark("{n} pair of {animals}"), mark("{n} pairs of {animals}"), pairs)
    return told.format(n=pairs, animals=animals_words(animals))


def truth_words(truth: str) -> str:
    """What is known of the true pressure between pairs."""
    return _(_TRUTHS[truth])


def headline(comparison: Comparison) -> str:
    """Bias and limits of a pressure, or why there are none."""
    if comparison.limits is None:
        why = next((each for each in comparison.missing if each.name in ("limits", "bias")), None)
        return "" if why is None else f"{why.says[:1].upper()}{why.says[1:]}; {why.remedy}."
    limits = comparison.limits
    level = 100.0 * limits.bias.confidence
    return _(
        "The tested method reads {bias} mmHg off the reference on average; 95 of 100 single differences are expected "
        "from {lower} to {upper} mmHg ({level:g} % intervals in brackets)."
    ).format(
        bias=interval_words(limits.bias, signed=True),
        lower=interval_words(limits.lower, signed=True),
        upper=interval_words(limits.upper, signed=True),
        level=level,
    )


def comparison_sentences(comparison: Comparison) -> list[str]:
    """What came of a pressure: bias and limits, change with pressure, failures, criteria."""
    found = [headline(comparison)]
    slope = comparison.against_average
    if slope is not None and slope.is_shown:
        found.append(
            _("The difference changes with the pressure: {slope} mmHg for each 10 mmHg.").format(
                slope=interval_words(
                    Interval(
                        estimate=10.0 * slope.slope.estimate,
                        low=10.0 * slope.slope.low,
                        high=10.0 * slope.slope.high,
                        confidence=slope.slope.confidence,
                    ),
                    signed=True,
                )
            )
        )
    found += [
        _("The {method} method gave no value in {failed} of {attempts} attempts.").format(
            method=_(each.method), failed=each.failed, attempts=each.attempts
        )
        for each in comparison.success
        if each.failed
    ]
    found += [verdict_sentence(each) for each in comparison.judgements]
    if any(each.share.n > each.share.animals for each in comparison.shares):
        found.append(
            _(
                "Pairs of one animal are alike, so the intervals of shares count animals more than pairs: of {animals} "
                "animals even a share of 100 % is known no better than {low} to 100 %."
            ).format(
                animals=len(comparison.pairs.animals),
                low=percent(share_if_all(comparison.pairs).low),
            )
        )
    return [sentence for sentence in found if sentence]


def figure_rows(found: Comparison) -> list[tuple[str, str]]:
    """Name and value of every other figure that these pairs give: lines, correlation, shares, categories, trend."""
    return [
        *_limit_rows(found),
        *_line_rows(found),
        *_likeness_rows(found),
        *_share_rows(found),
        *_category_rows(found),
        *_replicate_rows(found),
    ]


def _row(name: str, value: Interval | None, digits: int = 2, *, signed: bool = False) -> list[tuple[str, str]]:
    return [] if value is None else [(name, interval_words(value, digits, signed=signed))]


def _share_row(name: str, value: Share | None) -> list[tuple[str, str]]:
    return [] if value is None else [(name, share_words(value))]


def _limit_rows(found: Comparison) -> list[tuple[str, str]]:
    limits = found.limits
    if limits is None:
        return []
    lower, upper = limits.approximate()
    rows = [
        (
            _("limits, approximate intervals, mmHg"),
            f"{interval_words(lower, signed=True)}; {interval_words(upper, signed=True)}",
        )
    ]
    if limits.tolerance is not None:
        name = _("limits that hold 95 % of all differences jointly, mmHg")
        low, high = limits.tolerance
        rows.append((name, _("{low:+z.1f} to {high:+z.1f}").format(low=low, high=high)))
    return rows


def _line_rows(found: Comparison) -> list[tuple[str, str]]:
    rows = []
    for name, against in (
        (_("slope of the difference on the mean of both"), found.against_average),
        (_("slope of the difference on the reference"), found.against_reference),
    ):
        rows += _row(name, None if against is None else against.slope, signed=True)
    for name, line in ((_("Deming's line"), found.deming), (_("Passing and Bablok's line"), found.passing_bablok)):
        if line is not None:
            rows += _row(_("slope of {line}").format(line=name), line.slope)
            rows += _row(_("intercept of {line}, mmHg").format(line=name), line.intercept, 1)
    return rows


def _likeness_rows(found: Comparison) -> list[tuple[str, str]]:
    rows = []
    if found.correlation is not None:
        rows += _row(_("correlation over all pairs"), found.correlation.pooled)
        rows += _row(_("correlation within animals"), found.correlation.within)
    rows += _row(_("concordance (Lin)"), found.concordance)
    if found.intraclass is not None:
        rows += _row(_("intraclass correlation (1,1)"), found.intraclass.one_way_single)
        rows += _row(_("intraclass correlation (2,1)"), found.intraclass.two_way_single)
        rows += _row(_("intraclass correlation (3,1)"), found.intraclass.consistency_single)
    if found.deviation is not None:
        name = _("{share} of differences within, mmHg").format(share=percent(found.deviation.share))
        rows += _row(name, found.deviation.index, 1)
        name = _("share within {within:g} mmHg under a normal law").format(within=found.deviation.within)
        rows.append((name, _percents(found.deviation.coverage)))
    return rows


def _share_rows(found: Comparison) -> list[tuple[str, str]]:
    return [
        row
        for each in found.shares
        for row in _share_row(_("within {limit:g} mmHg").format(limit=each.limit), each.share)
    ]


def _category_rows(found: Comparison) -> list[tuple[str, str]]:
    rows = []
    if found.categories is not None:
        rows += _share_row(_("same risk category"), found.categories.same)
        rows += _share_row(_("a lower risk category"), found.categories.lower)
        rows += _share_row(_("a higher risk category"), found.categories.higher)
        rows += _row(_("weighted kappa of categories, linear"), found.categories.linear)
        rows += _row(_("weighted kappa of categories, quadratic"), found.categories.quadratic)
    beyond, short = mark("{limit:g} mmHg or more"), mark("under {limit:g} mmHg")
    for detected, names in ((found.high, (beyond, short)), (found.low, (short, beyond))):
        if detected is not None:
            asked, others = (_(name).format(limit=detected.limit) for name in names)
            rows += _share_row(_("{pressures}, found (sensitivity)").format(pressures=asked), detected.sensitivity)
            rows += _share_row(_("{pressures}, told so (specificity)").format(pressures=others), detected.specificity)
            rows += _share_row(_("told {pressures}, and so it was").format(pressures=asked), detected.positive_value)
            rows += _share_row(_("told {pressures}, and so it was").format(pressures=others), detected.negative_value)
    if found.trending is not None and found.trending.concordance is not None:
        name = _("changes the same way, of {changes} (customary: {wanted})").format(
            changes=found.trending.changes - found.trending.left_out, wanted=percent(WANTED.value)
        )
        rows += _share_row(name, found.trending.concordance)
    return rows


def _replicate_rows(found: Comparison) -> list[tuple[str, str]]:
    rows = []
    for name, spread in (
        (_("repeatability of the tested method, mmHg"), found.repeatability_tested),
        (_("repeatability of the reference, mmHg"), found.repeatability_reference),
    ):
        rows += _row(name, None if spread is None else spread.coefficient, 1)
    return rows


def share_words(share: Share) -> str:
    """A share with the interval that knows the animals; beside it the plain one where animals have several pairs."""
    told = _percents(share.by_animal)
    if share.n == share.animals:
        return told
    plain = share.plain
    return _("{told}; {low} to {high} if each pair were of another animal").format(
        told=told, low=percent(plain.low), high=percent(plain.high)
    )


def _percents(found: Interval) -> str:
    return _("{value} ({low} to {high})").format(
        value=percent(found.estimate), low=percent(found.low), high=percent(found.high)
    )


def verdict_sentence(judgement: Judgement) -> str:
    """The verdict of a scheme as a whole."""
    scheme = judgement.scheme
    yardstick = "" if scheme.made_for == "animals" else _(" (made for people: a yardstick)")
    if judgement.grade is not None:
        return _("By {scheme}{yardstick}: grade {grade}.").format(
            scheme=scheme_name(judgement), yardstick=yardstick, grade=judgement.grade
        )
    return _("By {scheme}{yardstick}: {verdict}.").format(
        scheme=scheme_name(judgement), yardstick=yardstick, verdict=_(VERDICTS[judgement.verdict])
    )


def verdict_of_scheme(judgement: Judgement) -> str:
    """The verdict in a word or two, or the grade."""
    if judgement.grade is not None:
        return _("grade {grade}").format(grade=judgement.grade)
    return verdict_name(judgement.verdict)


def deciding(judgement: Judgement) -> list[str]:
    """What keeps a scheme from being met plainly, or from the next grade, estimate and limit each; empty where nothing.

    The criteria are those with the verdict of the whole; with grades, those of the next better one that fail.
    """
    judged = judgement.judged
    if judgement.grade is not None:
        grades = list(dict.fromkeys(each.criterion.grade for each in judged))
        worse = grades.index(judgement.grade) if judgement.grade in grades else len(grades)
        fails = ("fails", "fails-crossing")
        judged = tuple(
            each for each in judged if worse and each.criterion.grade == grades[worse - 1] and each.verdict in fails
        )
    elif judgement.verdict == "passes":
        return []
    else:
        judged = tuple(each for each in judged if each.verdict == judgement.verdict)
    return [
        _("{criterion} {value}, wanted {limit}").format(
            criterion=criterion_name(each), value=criterion_value(each).partition(" (")[0], limit=criterion_limit(each)
        )
        for each in judged
    ]


def scheme_name(judgement: Judgement) -> str:
    """Name of the scheme, and of the species where each is judged by itself."""
    if judgement.species is None:
        return judgement.scheme.name
    return _("{scheme}, {species}").format(scheme=judgement.scheme.name, species=_species_name(judgement.species))


def _species_name(species: str) -> str:
    return _({"cat": mark("cats"), "dog": mark("dogs")}.get(species, mark("species not told")))


def why_not(judgement: Judgement) -> list[str]:
    """Why criteria were not judged, each reason once with the criteria that it is true of."""
    found: dict[str, list[str]] = {}
    for each in judgement.judged:
        if each.why is not None:
            found.setdefault(each.why, []).append(criterion_name(each))
    return [f"{', '.join(names)}: {why}." for why, names in found.items()]


def criterion_name(judged: Judged) -> str:
    """What is looked at: `share within 10 mmHg`, and for which grade."""
    name = _(_MEASURES[judged.criterion.measure]).format(band=judged.criterion.band or 0.0)
    if judged.criterion.grade is None:
        return name
    return _("grade {grade}: {name}").format(grade=judged.criterion.grade, name=name)


def criterion_value(judged: Judged) -> str:
    """What was found, with its interval; a hyphen where nothing was."""
    value, measure = judged.value, judged.criterion.measure
    if value is None:
        return "-"
    if measure in _SHARES:
        if value.low == value.high:
            return percent(value.estimate)
        return _("{value} ({low} to {high})").format(
            value=percent(value.estimate), low=percent(value.low), high=percent(value.high)
        )
    if measure in _COUNTS:
        return f"{value.estimate:.0f}"
    if measure == "effective-pairs":
        return f"{value.estimate:.1f}"
    return interval_words(value, 2 if measure == "correlation" else 1, signed=measure == "bias")


def criterion_limit(judged: Judged) -> str:
    """What it is held against: `at least 50 %`."""
    if judged.limit is None:
        return "-"
    if judged.criterion.measure == "bias":
        return _("within ±{limit:g}").format(limit=judged.limit)
    sense = _("at most") if judged.criterion.sense == "at most" else _("at least")
    told = percent(judged.limit) if judged.criterion.measure in _SHARES else f"{judged.limit:g}"
    return f"{sense} {told}"


def criterion_source(judged: Judged) -> str:
    """Source and standing of the limit."""
    limit = judged.criterion.limit
    return "" if limit is None else source_and_standing(limit.source, limit.standing)


def verdict_name(verdict: Verdict) -> str:
    """Met, not met, and whether the interval reaches over the limit, in a word or two for a table."""
    return _(_BRIEF[verdict])


def recruitment_sentences(lacks: Recruitment) -> list[str]:
    """What is still missing, a sentence each."""
    found = []
    for need in lacks.needs:
        if need.missing and need.at_most:
            found.append(
                _("{have} pairs of one animal: {missing} more than the {need} allowed.").format(
                    have=need.have, missing=need.missing, need=need.need
                )
            )
        elif need.missing:
            what = {"animals": _("animals"), "effective-pairs": _("effective pairs")}.get(need.key, _("pairs"))
            if need.band is not None:
                low = need.key == "low-enough"
                what = (_("pairs at {band:g} mmHg or less") if low else _("pairs at {band:g} mmHg or more")).format(
                    band=need.band
                )
            found.append(
                _("{have} {what} of {need}: {missing} missing.").format(
                    have=need.have, what=what, need=need.need, missing=need.missing
                )
            )
    for each in lacks.ranges:
        if each.pairs == 0:
            found.append(
                {
                    "low": _("No pair with a low reference, under {high:g} mmHg."),
                    "normal": _("No pair with a reference from {low:g} to {high:g} mmHg."),
                    "high": _("No pair with a high reference, {low:g} mmHg or more."),
                }[each.name].format(low=each.low, high=each.high)
            )
    return found or [_("Nothing is missing.")]


def reason_sentence(reason: Reason) -> str:
    """Why one side of a determination gave nothing."""
    return _(REASONS[reason.code]).format(**reason.numbers)


def rule_sentence(rule: Rule) -> str:
    """Which beats a reading is held against."""
    return _("Reference: mean of {window}; at least {beats} of them.").format(
        window=_(_WINDOWS[rule.window]).format(seconds=rule.seconds), beats=rule.fewest_beats
    )


def deviation_sentence(deviation: PlanDeviation) -> str:
    """One departure from the plan."""
    return _("{what}: planned {planned}, done {done}").format(
        what=_(_DEVIATIONS[deviation.code]), planned=deviation.planned, done=deviation.done
    )


def methods_paragraph(
    rows: PairRows, compared: Sequence[Comparison], analysis: Analysis, *, plan: Plan | None = None
) -> str:
    """The statistics of a comparison as a paper tells them, with the numbers of this one filled in."""
    return " ".join(
        [
            *(_("INVENTED data, not patients.").split("\n") if rows.invented else []),
            *_design_sentences(rows, analysis, plan),
            *_analysis_sentences(rows, analysis),
            *[_result_sentence(each) for each in compared if each.limits is not None],
            _("Computed with Quietlimb {version}.").format(version=ENGINE_VERSION),
        ]
    )


def _design_sentences(rows: PairRows, analysis: Analysis, plan: Plan | None) -> list[str]:
    counts = sorted(sum(row.animal == animal for row in rows.rows) for animal in rows.animals)
    each = f"{counts[0]}" if counts[0] == counts[-1] else _("{low} to {high}").format(low=counts[0], high=counts[-1])
    found = [
        _("{tested} was compared with {reference} in {animals}, {rows} in all, {each} of an animal ({truth}).").format(
            tested=rows.tested_name[:1].upper() + rows.tested_name[1:],
            reference=rows.reference_name,
            animals=animals_words(len(rows.animals)),
            rows=determinations_words(len(rows.rows)),
            each=each,
            truth=truth_words(rows.truth),
        )
    ]
    species = {row.species for row in rows.rows}
    if None not in species:
        told = [
            _counted(len({row.animal for row in rows.rows if row.species == name}), name)
            for name in sorted(map(str, species))
        ]
        found.append(_("Species: {told}.").format(told=", ".join(told)))
    if rows.blinded is not None:
        found.append(
            _("Each method was read without knowledge of the other.")
            if rows.blinded
            else _("The methods were read with knowledge of each other.")
        )
    first = [row.first for row in rows.rows]
    if None not in first:
        told = [f"{name} {first.count(name)}" for name in ("tested", "reference", "together") if name in first]
        found.append(_("Taken first: {told}.").format(told=", ".join(told)))
    if analysis.rule is not None:
        found.append(rule_sentence(analysis.rule))
    lines = summarise_lines(rows)
    if lines is not None:
        found += line_sentences(lines)
    if plan is None:
        found.append(_("There was no analysis plan."))
    else:
        found.append(_("The analysis was planned on {day}.").format(day=plan.made_on))
    return found


def _counted(animals: int, species: str) -> str:
    one, many = (mark("{n} cat"), mark("{n} cats")) if species == "cat" else (mark("{n} dog"), mark("{n} dogs"))
    return plural(one, many, animals).format(n=animals)


def _analysis_sentences(rows: PairRows, analysis: Analysis) -> list[str]:
    ways = {
        "single": _("with exact intervals by the noncentral t law"),
        "constant": _(
            "from the means of the animals, the scatter within animals added again, intervals recovered from those of "
            "the variances"
        ),
        "changing": _(
            "from an analysis of variance of the differences by animal, intervals recovered from those of the variances"
        ),
    }
    schemes = "; ".join(SCHEMES[key].name for key in analysis.schemes)
    return [
        _("Differences are tested minus reference, of {pressures} pressure.").format(
            pressures=", ".join(_(each) for each in analysis.quantities)
        ),
        _("Limits of agreement are bias -/+ 1.96 standard deviations, {way}.").format(way=ways[rows.truth]),
        _(
            "Proportional bias by regression of the difference on the mean of both; Deming's line with a ratio of the "
            "error variances of {ratio:g}. Intervals are of {level:g} %."
        ).format(ratio=analysis.error_ratio, level=100.0 * analysis.confidence),
        _("Criteria: {schemes}.").format(schemes=schemes),
    ]


def _result_sentence(comparison: Comparison) -> str:
    limits = comparison.limits
    assert limits is not None
    failed = ""
    if comparison.pairs.attempts is not None and comparison.pairs.attempts > comparison.pairs.n:
        failed = _(" ({failed} of {attempts} attempts gave none)").format(
            failed=comparison.pairs.attempts - comparison.pairs.n, attempts=comparison.pairs.attempts
        )
    return _(
        "{quantity}: {pairs} pairs{failed}, bias {bias} mmHg, limits of agreement {lower} to {upper} mmHg."
    ).format(
        quantity=_(comparison.quantity)[:1].upper() + _(comparison.quantity)[1:],
        pairs=comparison.pairs.n,
        failed=failed,
        bias=interval_words(limits.bias, signed=True),
        lower=interval_words(limits.lower, signed=True),
        upper=interval_words(limits.upper, signed=True),
    )
