"""A comparison as text."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from quietlimb.agreement.comparing import Compared
from quietlimb.agreement.criteria import Judgement
from quietlimb.agreement.design import MOST_ANIMALS, RUNS, Expected, SizeRow
from quietlimb.agreement.limits import MULTIPLIER
from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.plan import PlanDeviation
from quietlimb.agreement.ranking import FEWEST_ANSWERED, Ranked
from quietlimb.agreement.recruitment import Recruitment
from quietlimb.agreement.summary import Comparison
from quietlimb.cli.layout import bullets, paragraphs, table, wrapped
from quietlimb.exchange.errors import one_line
from quietlimb.exchange.plan_json import PlanFile
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.words import comparison as words
from quietlimb.words import comparison_tables as tables
from quietlimb.words.arterial_line import line_sentences
from quietlimb.words.comparison_cautions import cautions_before
from quietlimb.words.language import _
from quietlimb.words.numerals import percent


def comparison_lines(
    name: str,
    rows: PairRows,
    compared: Sequence[Compared],
    *,
    plan: PlanFile | None = None,
    departs: Sequence[PlanDeviation] = (),
    details: bool = False,
) -> list[str]:
    """Who against whom, then pressure by pressure, then plan and cautions.

    details : every criterion of several schemes, by range too, and what is missing for each; of one they always stand
    """
    about = (
        f"{rows.tested_name} against {rows.reference_name}: {words.animals_words(len(rows.animals))}, "
        f"{words.determinations_words(len(rows.rows))} ({words.truth_words(rows.truth)})."
    )
    before = cautions_before(rows, [each.comparison for each in compared])
    lines = summarise_lines(rows)
    return [
        one_line(name) + (f" ({INVENTED_WORDS})" if rows.invented else ""),
        *wrapped(about),
        "",
        *paragraphs(
            ["Before the figures", *bullets(before)] if before else [],
            [] if lines is None else [line for each in line_sentences(lines) for line in wrapped(each)],
            *[quantity_lines(each, details=details) for each in compared],
            plan_lines(plan, departs),
            ["Cautions", *bullets(words.cautions_after(rows))],
        ),
        "",
    ]


def quantity_lines(compared: Compared, *, details: bool = False) -> list[str]:
    """One pressure: bias and limits, criteria, ranges, other figures, what is missing."""
    found = compared.comparison
    pairs = found.pairs
    heading = f"{found.quantity.capitalize()} pressure: {words.pairs_words(pairs.n, len(pairs.animals))}"
    several = len({each.scheme.name for each in found.judgements}) > 1
    full = details or not several
    in_table = {words.verdict_sentence(each) for each in found.judgements} if several else set()
    said = [each for each in words.comparison_sentences(found) if each not in in_table]
    return [
        heading,
        *[line for sentence in said for line in wrapped(sentence)],
        *(summary_lines(found.judgements, details=details) if several else []),
        *[line for judged in found.judgements if full for line in ["", *judgement_lines(judged)]],
        *range_lines(found, by_criteria=full),
        *figure_lines(found),
        *[line for lacks in compared.lacks if full for line in recruitment_lines(lacks)],
    ]


def summary_lines(judgements: Sequence[Judgement], *, details: bool) -> list[str]:
    """A line for each of several schemes: its verdict, and what decides it."""
    header = ("criteria", "verdict", "decided by")
    rows = []
    for each in judgements:
        decided, *more = words.deciding(each) or ["-"]
        named = words.scheme_name(each) + ("" if each.scheme.made_for == "animals" else " *")
        rows.append((named, words.verdict_of_scheme(each), f"{decided}; {len(more)} more" if more else decided))
    people = any(each.scheme.made_for != "animals" for each in judgements)
    return [
        "",
        *table(header, rows, left=frozenset(header)),
        *(wrapped("* made for people: a yardstick.") if people else []),
        *([] if details else wrapped("Each criterion, by range too, and what is missing: with --details.")),
    ]


def judgement_lines(judgement: Judgement) -> list[str]:
    """The criteria of a scheme as a table, with where their figures come from."""
    header = ("criterion", "found", "wanted", "verdict")
    rows = [
        (
            words.criterion_name(each),
            words.criterion_value(each),
            words.criterion_limit(each),
            words.verdict_name(each.verdict),
        )
        for each in judgement.judged
    ]
    sources = dict.fromkeys(words.criterion_source(each) for each in judgement.judged)
    return [
        f"  {words.scheme_name(judgement)}",
        *table(header, rows, left=frozenset(header)),
        *bullets(words.why_not(judgement)),
        *wrapped(" ".join(source for source in sources if source)),
    ]


def range_lines(found: Comparison, *, by_criteria: bool = True) -> list[str]:
    """Bias by range of pressure, then the criteria that hold in each range."""
    header = tuple(map(_, tables.RANGE_HEADER))
    rows = tables.range_rows(found)
    lines = ["", *table(header, rows, left=frozenset(header[:3]))] if rows else []
    for judgement in found.judgements if by_criteria else ():
        verdicts = tables.verdict_rows(judgement, found)
        if verdicts:
            header = tuple(map(_, tables.VERDICT_HEADER))
            lines += [
                "",
                f"  {words.scheme_name(judgement)}, by range",
                *table(header, verdicts, left=frozenset(header)),
            ]
    return lines


def figure_lines(found: Comparison) -> list[str]:
    """Lines, concordance, categories and trends, as far as these pairs give them; then what they do not give."""
    header = ("figure", "value")
    told = words.figure_rows(found)
    lines = ["", *table(header, told, left=frozenset(header))] if told else []
    names, counts = tables.category_rows(found)
    if counts:
        lines += ["", *table(names, counts, left=frozenset(names[:1]))]
    reasons = tables.missing_sentences(found)
    return [*lines, "", *bullets(reasons)] if reasons else lines


def recruitment_lines(lacks: Recruitment) -> list[str]:
    """What is still missing by a scheme."""
    species = ", ".join(f"{name} {count}" for name, count in lacks.animals_by_species.items())
    return [
        "",
        *wrapped(f"Recruited for {lacks.scheme.name} ({species}):"),
        *bullets(words.recruitment_sentences(lacks)),
    ]


def recruitment_table(lacks: Sequence[Recruitment]) -> list[str]:
    """Low, normal and high pressures, species by species.

    lacks : of one pressure; those of the first scheme are shown, one a species where there are several
    """
    of_species = [each for each in lacks if each.scheme == lacks[0].scheme]
    species = list(dict.fromkeys(name for each in of_species for name in each.animals_by_species))
    rows = [
        (
            ranges[0].name,
            f"{sum(each.animals for each in ranges)}",
            f"{sum(each.pairs for each in ranges)}",
            *[str(sum(each.by_species.get(name, 0) for each in ranges)) for name in species],
        )
        for ranges in zip(*[each.ranges for each in of_species], strict=True)
    ]
    header = ("reference", "animals", "pairs", *[f"pairs, {name}" for name in species])
    return table(header, rows, left=frozenset({"reference"}))


def plan_lines(plan: PlanFile | None, departs: Sequence[PlanDeviation]) -> list[str]:
    """Whether all went as planned."""
    if plan is None:
        return ["Plan", *wrapped("No plan was given: nothing here was decided before the data, as far as is told.")]
    about = f"{one_line(plan.plan.title)}, of {plan.plan.made_on}, fingerprint {plan.fingerprint[:16]}"
    if not departs:
        return ["Plan", *wrapped(f"{about}: run as planned.")]
    return ["Plan", *wrapped(f"{about}: not run as planned."), *bullets(map(words.deviation_sentence, departs))]


def ranking_lines(
    folder: str, ranked: Mapping[str, Sequence[Ranked]], recordings: int, first: str, invented: bool
) -> list[str]:
    """Methods of reading, the nearest first, pressure by pressure."""
    header = ("", "method", "failed", "bias", "SD", "RMS error", "within 10", f"against {first}")
    lines = [
        one_line(folder) + (f" ({INVENTED_WORDS})" if invented else ""),
        *wrapped(
            f"{recordings} recordings with known pressures; errors are read minus known, in mmHg. In the last column, "
            "the mean absolute error minus that of the method named there: below 0 is nearer."
        ),
    ]
    for quantity, standings in ranked.items():
        rows = [
            (
                "-" if each.place is None else str(each.place),
                each.method,
                f"{each.failed} of {each.recordings}",
                _number(each.bias, "+z.1f"),
                _number(each.sd, ".1f"),
                _number(each.rms, ".1f"),
                "-" if math.isnan(each.within) else percent(each.within),
                "-" if each.against_first is None else words.interval_words(each.against_first, signed=True),
            )
            for each in standings
        ]
        lines += ["", f"{quantity.capitalize()} pressure", *table(header, rows, left=frozenset({"method", header[-1]}))]
        lines += [line for each in standings if each.place is None for line in wrapped(_no_place(each))]
    return lines


def _no_place(each: Ranked) -> str:
    """Why a method is not ranked."""
    if not each.recordings:
        return f"{each.method} has no place: no recording has a known pressure of this kind."
    return (
        f"{each.method} has no place: it gave a value in {each.recordings - each.failed} of {each.recordings} "
        f"recordings. Who answers in fewer than {FEWEST_ANSWERED.value:.0%} of those that the most answering method "
        "does (our own figure) is not ranked, however near its values are."
    ).replace("%", " %")


def _number(value: float, form: str) -> str:
    return format(value, form) if math.isfinite(value) else "-"


_WISHES = {
    "limit": "know either limit to {wanted:g} mmHg",
    "bias": "know the bias to {wanted:g} mmHg",
    "tolerable": "limits shown within {wanted:g} mmHg",
}


def size_lines(expected: Expected, rows: Sequence[SizeRow], *, seed: int) -> list[str]:
    """How many animals fulfil each wish."""
    told = [
        (
            _WISHES[row.wish].format(wanted=row.wanted),
            str(row.readings),
            "none" if row.animals is None else str(row.animals),
            _size(row, row.formula),
            _size(row, row.simulated),
        )
        for row in rows
    ]
    about = (
        f"Expected differences: bias {expected.bias:+g}, between animals SD {expected.between_sd:g}, within animals SD "
        f"{expected.within_sd:g} mmHg."
    )
    return [
        *wrapped(about, indent=""),
        "",
        *table(("wish", "readings", "animals", "formula", "simulated"), told, left=frozenset({"wish"})),
        "",
        *bullets(dict.fromkeys(_why_none(expected, row) for row in rows if row.animals is None)),
        *wrapped(f"Simulated: {RUNS} comparisons from seed {seed}; the same seed gives the same answer.", indent=""),
        *(
            wrapped(
                "Of the bias nothing is simulated: its formula, the t law, is exact for normal differences.", indent=""
            )
            if any(row.wish == "bias" for row in rows)
            else []
        ),
        *wrapped(
            "Formula and simulation take differences for normal and readings of an animal for linked pairs. Recruit "
            "more, for determinations that fail.",
            indent="",
        ),
    ]


def _why_none(expected: Expected, row: SizeRow) -> str:
    """Why no number of animals fulfils a wish."""
    wish = _WISHES[row.wish].format(wanted=row.wanted)
    reach = abs(expected.bias) + MULTIPLIER * expected.sd
    if row.wish == "tolerable" and reach >= row.wanted:
        return (
            f"{wish}: no number of animals shows it, for the limits expected reach to {reach:.1f} mmHg themselves "
            f"(bias and {MULTIPLIER:g} SD): tolerate more, or choose a method that scatters less."
        )
    return f"{wish}: {MOST_ANIMALS} animals with {row.readings} readings of each are too few: wish for less."


def _size(row: SizeRow, value: float | None) -> str:
    if value is None:
        return "-"
    return percent(value) if row.wish == "tolerable" else f"{value:.1f} mmHg"
