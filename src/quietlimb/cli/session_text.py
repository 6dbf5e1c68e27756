"""A charted session as text."""

from __future__ import annotations

import math

from quietlimb.cli.interpretation_text import (
    animal_lines,
    category_lines,
    low_pressure_lines,
    next_lines,
    organ_lines,
    other_lines,
    record_lines,
    would_change_lines,
)
from quietlimb.cli.layout import bullets, estimate_table, paragraphs, table, weight, whole, wrapped
from quietlimb.cli.reading_text import finding_sentence
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.findings import Finding
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.enough import Enough
from quietlimb.engine.session.pulse_rate import SCATTER_SHARE
from quietlimb.engine.session.two_values import two_values
from quietlimb.exchange.converted_json import Beside
from quietlimb.exchange.errors import one_line
from quietlimb.figures.invented import invented_words
from quietlimb.reports.phrases import digits_of, guideline_line, rule_line, two_values_line, with_interval
from quietlimb.reports.setting import setting_lines
from quietlimb.words.categories import brief_heading
from quietlimb.words.conversion import ONLY_BESIDE, converted_sentence, refused_sentence
from quietlimb.words.courses import charted_course, no_course
from quietlimb.words.dates import date_and_time
from quietlimb.words.enough import enough_sentences, width_sentence
from quietlimb.words.findings import of_values_given
from quietlimb.words.language import _
from quietlimb.words.numerals import percent

QUANTITIES = ("systolic", "mean", "diastolic", "pulse_rate")


def circumstances_sentence(circumstances: Circumstances) -> str:
    """What is known of who, where and with what."""
    started = None if circumstances.started_at is None else date_and_time(circumstances.started_at)
    who = [circumstances.animal, circumstances.species, circumstances.breed, started]
    setting = [f"{name.lower()} {value}" for name, value in setting_lines(circumstances)]
    return "; ".join([", ".join(each for each in who if each), *setting])


def session_lines(
    name: str,
    charted: ChartedPressure,
    interpretation: Interpretation,
    found: Enough | None = None,
    converted: Beside | None = None,
) -> list[str]:
    """The answer in one line, then readings with weights, charted pressure, course, guideline average, meaning.

    found     : whether the readings are enough; None leaves that out
    converted : None where no conversion was chosen
    """
    circumstances = charted.series.circumstances
    words = invented_words(circumstances)
    return [
        one_line(name) + (f" ({words})" if words else ""),
        *wrapped(answer(charted, interpretation)),
        *low_pressure_lines(interpretation),
        "",
        *wrapped(circumstances_sentence(circumstances)),
        "",
        *reading_table(charted),
        "",
        *charted_lines(charted, digits_of(charted, interpretation)),
        *converted_lines(converted),
        *apart_lines(charted, interpretation),
        *enough_lines(found),
        *paragraphs(
            category_lines(interpretation),
            animal_lines(interpretation),
            record_lines(interpretation, circumstances.species),
            organ_lines(interpretation),
            other_lines(interpretation),
            would_change_lines(interpretation),
            next_lines(interpretation),
        ),
    ]


def converted_lines(told: Beside | None) -> list[str]:
    """What a chosen conversion makes of the charted pressure, or why nothing."""
    if told is None:
        return []
    if told.refused is not None:
        return wrapped(refused_sentence(told.file.conversion, told.refused))
    assert told.found is not None
    return wrapped(f"{converted_sentence(told.found, told.shares)} {_(ONLY_BESIDE)}")


def answer(charted: ChartedPressure, interpretation: Interpretation) -> str:
    """The result in one line: charted systolic pressure with its interval, category, course."""
    meaning = brief_heading(interpretation)
    if charted.systolic is None:
        return f"No systolic pressure charted: {meaning}."
    value = with_interval(charted.systolic, digits_of(charted, interpretation))
    return f"Charted {value} mmHg systolic: {meaning}; course {charted_course(charted)}."


def reading_table(charted: ChartedPressure) -> list[str]:
    """The readings in the order taken, with what each is worth for the systolic pressure; then why not more."""
    series = charted.series
    header = ("no", "minute", "systolic", "mean", "diastolic", "pulse", "weight", "verdict")
    rows, reasons = [], []
    for k, judged in enumerate(charted.readings):
        values = (series.systolic[k], series.mean[k], series.diastolic[k], series.pulse_rate[k])
        told = (*map(whole, values), weight(judged.systolic_weight))
        rows.append((str(k + 1), f"{judged.minute:.1f}", *told, judged.verdict))
        given = {name for name, value in zip(QUANTITIES, values, strict=True) if not math.isnan(value)}
        findings = of_values_given(judged.findings, given)
        named = dict.fromkeys(_named(finding) for finding in findings if finding.severity != "note")
        if named:
            reasons.append(f"{k + 1}: {', '.join(named)}")
    return table(header, rows, left=frozenset({"verdict"})) + bullets(reasons)


def _named(finding: Finding) -> str:
    """A finding by its code, with the reason that somebody gave."""
    name = finding.code.replace("-", " ")
    return f"{name} ({one_line(finding.told)})" if finding.told else name


def change_words(fall_mmhg: float) -> str:
    """How far the fitted course went; not the difference of two readings, which each scatter about it."""
    change = round(-fall_mmhg)
    told = f"{change:+d}" if change else "0"
    return f"systolic in the fitted course, from the first to the last reading: {told} mmHg"


def course_told(charted: ChartedPressure) -> str:
    """The course with its shares, how far it went and where it would level off; that one reading tells none."""
    if charted.fall_mmhg is None:
        return no_course()
    level, falling, rising = (percent(share) for share in charted.course_probability)
    shares = f"level {level}, falling {falling}, rising {rising}"
    told = f"{charted_course(charted)} ({shares}); {change_words(charted.fall_mmhg)}"
    if charted.levels_off_mmhg is None:
        return told
    return f"{told}; going on so it would level off near {charted.levels_off_mmhg:.0f} mmHg, which is not charted"


def apart_lines(charted: ChartedPressure, interpretation: Interpretation) -> list[str]:
    """Why guideline average and charted pressure differ, where they fall in different categories."""
    two = None if not interpretation.today else two_values(charted, rules=interpretation.rules)
    return [] if two is None or not two.to_explain else wrapped(f"Why they differ: {two_values_line(two)}.")


def enough_lines(found: Enough | None) -> list[str]:
    """Whether to go on reading, and what further readings may bring."""
    if found is None:
        return []
    return wrapped(f"Enough? {' '.join([*enough_sentences(found), width_sentence(found)])}")


def rate_sentence() -> str:
    """What the rate is, for it stands among values of the end of the series."""
    return (
        "Pulse rate: the middle one of the series, not that at its end; the interval expects a scatter of "
        f"{100 * SCATTER_SHARE:.0f} % between readings (invented), however alike a few are."
    )


def charted_lines(charted: ChartedPressure, digits: int) -> list[str]:
    """The charted pressure with the course and the guideline average."""
    estimates = [
        ("systolic", charted.systolic),
        ("mean", charted.mean),
        ("diastolic", charted.diastolic),
        ("pulse rate", charted.pulse_rate),
    ]
    lines = [
        "Charted pressure: the level at the end of the series",
        *estimate_table(estimates, digits),
    ]
    if charted.pulse_rate is not None:
        lines += wrapped(rate_sentence())
    if charted.systolic is not None:
        lines += wrapped(f"Course: {course_told(charted)}.")
    lines += wrapped(f"Guideline average: {guideline_line(charted.guideline, digits)}.")
    if charted.guideline is not None:
        spread = "" if charted.guideline.spread is None else f"; here {100 * charted.guideline.spread:.1f} %"
        lines += wrapped(f"Its rule: {rule_line(charted.guideline)}{spread}.")
    given = {name for name in QUANTITIES if getattr(charted, name) is not None}
    return lines + bullets(finding_sentence(finding) for finding in of_values_given(charted.findings, given))
