"""A comparison as the lines and tables of its page. Words come from `quietlimb.words.comparison`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from quietlimb.agreement.comparing import Compared
from quietlimb.agreement.criteria import Judged, Judgement
from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.recruitment import Recruitment
from quietlimb.agreement.schemes import SCHEMES
from quietlimb.agreement.summary import Comparison
from quietlimb.clinic.comparisons.reckoning import Made
from quietlimb.figures.comparison import comparison_figures
from quietlimb.figures.look import Theme
from quietlimb.words import comparison as words
from quietlimb.words import comparison_tables as tables
from quietlimb.words.arterial_line import line_sentences
from quietlimb.words.comparison_cautions import cautions_before
from quietlimb.words.language import _, mark

PRESSURES: Final = {
    "systolic": mark("Systolic pressure"),
    "mean": mark("Mean pressure"),
    "diastolic": mark("Diastolic pressure"),
}
RANGES: Final = {"low": mark("low"), "normal": mark("normal"), "high": mark("high")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """What a file of pairs says, in a few lines: name and value of each."""

    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """A scheme: its sentence, (criterion, found, wanted, verdict) a row, by range, and why some were not judged."""

    sentence: str
    rows: tuple[tuple[str, str, str, str], ...]
    by_range: tuple[tuple[str, str, str, str], ...]
    why: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacks:
    """What a scheme still lacks: header and rows of the ranges, and a sentence for each thing."""

    scheme: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One pressure.

    agreement, others : (name, value with interval)
    ranges            : (range, mmHg, bias, pairs, animals)
    categories        : header, then rows
    missing           : which figures the pairs do not give, and why
    """

    heading: str
    counted: str
    sentences: tuple[str, ...]
    agreement: tuple[tuple[str, str], ...]
    criteria: tuple[Criteria, ...]
    ranges: tuple[tuple[str, str, str, str, str], ...]
    others: tuple[tuple[str, str], ...]
    categories: tuple[tuple[str, ...], list[tuple[str, ...]]]
    missing: tuple[str, ...]
    lacks: tuple[Lacks, ...]
    figures: tuple[tuple[str, str], ...]


def understood(rows: PairRows) -> Understood:
    """Who against whom, and how many."""
    species = Counter({row.animal: row.species or _("not told") for row in rows.rows}.values())
    pressures = ", ".join(f"{_(PRESSURES[each])} ({rows.pairs(each).n})" for each in rows.quantities())
    failed = sum(row.failed is not None for row in rows.rows)
    lines = [
        (_("Tested method"), rows.tested_name),
        (_("Reference"), rows.reference_name),
        (_("The reference is"), _kind(rows.reference_is)),
        (_("Animals"), f"{len(rows.animals)}: " + ", ".join(f"{name} {n}" for name, n in sorted(species.items()))),
        (_("Determinations"), str(len(rows.rows))),
        (_("of which failed"), str(failed)),
        (_("Pairs of an animal"), words.truth_words(rows.truth)),
        (_("Pairs"), pressures),
        (_("Read without knowledge of the other"), _yes(rows.blinded)),
        (_("Day of the first pair"), rows.taken_from or _("not told")),
    ]
    summary = summarise_lines(rows)
    if summary is not None:
        lines.append((_("Arterial line"), " ".join(line_sentences(summary))))
    return Understood(lines=tuple(lines))


def parts(made: Made) -> list[Part]:
    """Pressure by pressure, as the analysis has them."""
    pictures = [(name, str(spec["description"])) for name, spec in comparison_figures(made.rows, made.comparisons)]
    return [_part(each, [told for told in pictures if told[0].startswith(_prefix(each))]) for each in made.compared]


def figure(made: Made, name: str, *, theme: Theme) -> Any:
    """The specification of the figure with this name, the first where none is named; None where there is no such."""
    for found, spec in comparison_figures(made.rows, made.comparisons, theme=theme):
        if name in ("", found):
            return spec
    return None


def plan_lines(made: Made) -> list[str]:
    """Whether all went as planned, and what did not."""
    if made.plan is None:
        return [_("No plan was given: nothing here was decided before the data, as far as is told.")]
    plan = made.plan.plan
    about = _("{title}, of {day}, fingerprint {fingerprint}").format(
        title=plan.title, day=plan.made_on, fingerprint=made.plan.fingerprint[:16]
    )
    if not made.departs:
        return [_("{plan}: run as planned.").format(plan=about)]
    return [_("{plan}: not run as planned.").format(plan=about), *map(words.deviation_sentence, made.departs)]


def cautions(made: Made) -> list[str]:
    """What has to be known beside the figures."""
    return words.cautions_after(made.rows)


def before(made: Made) -> list[str]:
    """What has to be known before the figures are looked at."""
    return cautions_before(made.rows, made.comparisons)


def verdicts(results: Any) -> list[str]:
    """Of kept results a line each pressure and scheme: `Systolic pressure, ISO 81060-2: met`."""
    found = []
    for compared in results.get("compared", ()):
        for each in compared.get("judgements", ()):
            grade, verdict = each.get("grade"), each["verdict"]
            told = _("grade {grade}").format(grade=grade) if grade else _(words.VERDICTS.get(verdict, verdict))
            scheme = SCHEMES[each["scheme"]].name if each["scheme"] in SCHEMES else each["scheme"]
            scheme += f" ({_(each['species'])})" if each.get("species") else ""
            found.append(f"{_(PRESSURES[compared['quantity']])}, {scheme}: {told}")
    return found


def _prefix(compared: Compared) -> str:
    return f"{compared.comparison.quantity}-"


def _part(compared: Compared, pictures: Sequence[tuple[str, str]]) -> Part:
    found = compared.comparison
    agreement: list[tuple[str, str]] = []
    if found.bias is not None:
        agreement.append((_("Bias, mmHg"), words.interval_words(found.bias.bias, signed=True)))
        agreement.append((_("SD of the differences, mmHg"), words.interval_words(found.bias.sd)))
    if found.limits is not None:
        agreement.append((_("Lower limit of agreement, mmHg"), words.interval_words(found.limits.lower, signed=True)))
        agreement.append((_("Upper limit of agreement, mmHg"), words.interval_words(found.limits.upper, signed=True)))
    beside = {words.verdict_sentence(each) for each in found.judgements}  # they stand over their tables
    told = [each for each in words.comparison_sentences(found) if each not in beside]
    return Part(
        heading=_(PRESSURES[found.quantity]),
        counted=words.pairs_words(found.pairs.n, len(found.pairs.animals)),
        sentences=tuple(dict.fromkeys(told)),
        agreement=tuple(agreement),
        criteria=tuple(_criteria(each, found) for each in found.judgements),
        ranges=tuple(tables.range_rows(found)),
        others=tuple(words.figure_rows(found)),
        categories=tables.category_rows(found),
        missing=tuple(tables.missing_sentences(found)),
        lacks=tuple(_lacks(each, compared.lacks) for each in compared.lacks),
        figures=tuple(pictures),
    )


def _criteria(judgement: Judgement, found: Comparison) -> Criteria:
    def row(each: Judged) -> tuple[str, str, str, str]:
        verdict = _(words.VERDICTS[each.verdict])
        return words.criterion_name(each), words.criterion_value(each), words.criterion_limit(each), verdict

    sources = dict.fromkeys(words.criterion_source(each) for each in judgement.judged)
    return Criteria(
        sentence=words.verdict_sentence(judgement),
        rows=tuple(map(row, judgement.judged)),
        by_range=tuple(tables.verdict_rows(judgement, found)),
        why=tuple(words.why_not(judgement)),
        sources=tuple(each for each in sources if each),
    )


def _lacks(lacks: Recruitment, all_of_it: Sequence[Recruitment]) -> Lacks:
    """The table of ranges stands once for each species, with the first scheme."""
    species = list(lacks.animals_by_species)
    several = len({name for each in all_of_it for name in each.animals_by_species}) > 1
    return Lacks(
        scheme=f"{lacks.scheme.name} ({', '.join(map(_, species))})" if several else lacks.scheme.name,
        header=(
            _("reference"),
            "mmHg",
            _("animals"),
            _("pairs"),
            *(_("pairs, {of}").format(of=each) for each in species),
        ),
        rows=tuple(
            (
                _(RANGES[each.name]),
                tables.range_span(each.low, each.high),
                str(each.animals),
                str(each.pairs),
                *(str(each.by_species.get(name, 0)) for name in species),
            )
            for each in (lacks.ranges if lacks.scheme == all_of_it[0].scheme else ())
        ),
        sentences=tuple(words.recruitment_sentences(lacks)),
    )


def _kind(kind: str | None) -> str:
    known = {"intra-arterial": _("a catheter in an artery"), "indirect": _("another cuff")}
    return known.get(kind or "", _("not told"))


def _yes(value: bool | None) -> str:
    return _("not told") if value is None else (_("yes") if value else _("no"))
