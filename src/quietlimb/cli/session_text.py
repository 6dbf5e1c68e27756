"""A charted session as text."""

from __future__ import annotations

from quietlimb.cli.interpretation_text import category_lines, next_lines, organ_lines
from quietlimb.cli.layout import bullets, estimate_table, table, weight, whole, wrapped
from quietlimb.cli.reading_text import finding_sentence
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.exchange.errors import one_line
from quietlimb.figures.invented import invented_words
from quietlimb.reports.phrases import digits_of, guideline_line, percent
from quietlimb.reports.setting import setting_lines
from quietlimb.words.courses import course_name


def circumstances_sentence(circumstances: Circumstances) -> str:
    """What is known of who, where and with what."""
    who = [circumstances.animal, circumstances.species, circumstances.breed, circumstances.started_at]
    setting = [f"{name.lower()} {value}" for name, value in setting_lines(circumstances)]
    return "; ".join([", ".join(each for each in who if each), *setting])


def session_lines(name: str, charted: ChartedPressure, interpretation: Interpretation) -> list[str]:
    """Readings with weights, charted pressure, course, guideline average, meaning, next steps."""
    circumstances = charted.series.circumstances
    words = invented_words(circumstances)
    return [
        one_line(name) + (f" ({words})" if words else ""),
        *wrapped(circumstances_sentence(circumstances)),
        "",
        *reading_table(charted),
        "",
        *charted_lines(charted, digits_of(interpretation)),
        "",
        *category_lines(interpretation),
        "",
        *organ_lines(interpretation),
        "",
        *next_lines(interpretation),
    ]


def reading_table(charted: ChartedPressure) -> list[str]:
    """The readings in the order taken, with what each is worth for the systolic pressure; then why not more."""
    series = charted.series
    header = ("no", "minute", "systolic", "mean", "diastolic", "pulse", "weight", "verdict")
    rows, reasons = [], []
    for k, judged in enumerate(charted.readings):
        values = (series.systolic[k], series.mean[k], series.diastolic[k], series.pulse_rate[k])
        told = (*map(whole, values), weight(judged.systolic_weight))
        rows.append((str(k + 1), f"{judged.minute:.1f}", *told, judged.verdict))
        codes = dict.fromkeys(finding.code for finding in judged.findings if finding.severity != "note")
        if codes:
            reasons.append(f"{k + 1}: {', '.join(code.replace('-', ' ') for code in codes)}")
    return table(header, rows, left=frozenset({"verdict"})) + bullets(reasons)


def charted_lines(charted: ChartedPressure, digits: int) -> list[str]:
    """The charted pressure with the course and the guideline average."""
    estimates = [
        ("systolic", charted.systolic),
        ("mean", charted.mean),
        ("diastolic", charted.diastolic),
        ("pulse rate", charted.pulse_rate),
    ]
    lines = ["Charted pressure: the level at the end of the series", *estimate_table(estimates, digits)]
    if charted.systolic is not None:
        level, falling, rising = (percent(share) for share in charted.course_probability)
        course = f"Course: {course_name(charted.course)} (level {level}, falling {falling}, rising {rising})"
        if charted.fall_mmhg is not None:
            course += f"; systolic from first to last reading {-charted.fall_mmhg:+.0f} mmHg"
        lines += wrapped(course + ".")
    lines += wrapped(f"Guideline average: {guideline_line(charted.guideline, digits)}.")
    if charted.guideline is not None:
        spread = "" if charted.guideline.spread is None else f"; here {100 * charted.guideline.spread:.1f} %"
        lines += wrapped(f"Its rule: {charted.guideline.rule}{spread}.")
    return lines + bullets(finding_sentence(finding) for finding in charted.findings)
