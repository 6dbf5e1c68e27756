"""The chart note: plain text to paste into a record."""

from __future__ import annotations

from collections.abc import Sequence

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.two_values import two_values
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.invented import invented_words
from quietlimb.reports.phrases import (
    advice_line,
    caution_lines,
    course_line,
    digits_of,
    ended,
    finding_line,
    guideline_line,
    two_values_line,
    with_interval,
)
from quietlimb.reports.setting import setting_lines
from quietlimb.words import advice as advice_words
from quietlimb.words import categories as category_words
from quietlimb.words import organs as organ_words
from quietlimb.words import sources as source_words
from quietlimb.words.dates import date_and_time
from quietlimb.words.language import _, in_a_sentence
from quietlimb.words.numerals import percent

SHORT_FINGERPRINT = 16  # characters; the whole is on the page and in the JSON


def _who(circumstances: Circumstances) -> str:
    c = circumstances
    told = (c.animal, c.species, c.breed, c.started_at and date_and_time(c.started_at))
    return ", ".join(" ".join(part.split()) for part in told if part)


def _pressures(charted: ChartedPressure, digits: int) -> list[str]:
    if charted.systolic is None:
        return [_("Charted: no pressure.")]
    parts = [f"{_('systolic')} {with_interval(charted.systolic, digits)}"]
    for name, estimate in ((_("mean"), charted.mean), (_("diastolic"), charted.diastolic)):
        if estimate is not None:
            parts.append(f"{name} {with_interval(estimate)}")
    line = _("Charted: {pressures} mmHg, 95 % intervals").format(pressures=", ".join(parts))
    if charted.pulse_rate is not None:
        line += _("; pulse rate {rate:.0f}/min").format(rate=charted.pulse_rate.value)
    return [line + "."]


def _meaning(interpretation: Interpretation) -> list[str]:
    lines = []
    if interpretation.today:
        chances = [
            _("{name} {today} today, {animal} for the animal").format(
                name=in_a_sentence(category_words.share_name(interpretation, today.name)),
                today=percent(today.probability),
                animal=percent(animal.probability),
            )
            for today, animal in zip(interpretation.today, interpretation.animal, strict=True)
            if max(today.probability, animal.probability) >= 0.05
        ]
        heading = category_words.heading(interpretation)
        lines.append(f"{heading}, by {source_words.rules_and_standing(interpretation)} ({'; '.join(chances)}).")
    organs = [
        f"{organ_words.organ_name(check.organ).lower()} {organ_words.check_state(check)}"
        for check in interpretation.organs
    ]
    lines.append(_("Organs: {organs}.").format(organs=", ".join(organs)))
    if interpretation.next:
        lines.append(_("Next: {advice}").format(advice=" ".join(advice_line(a) for a in interpretation.next)))
        shared = advice_words.shared_source_line(interpretation.next)
        each = dict.fromkeys(source_words.source_and_standing(a.source, a.standing) for a in interpretation.next)
        lines.append(shared or _("Sources: {sources}").format(sources=" ".join(each)))
    cautions = caution_lines(interpretation)
    if cautions:
        lines.append(_("Cautions: {cautions}").format(cautions=" ".join(cautions)))
    return lines


def _apart(charted: ChartedPressure, interpretation: Interpretation | None) -> list[str]:
    """Why the two values differ, where they fall in different categories."""
    if interpretation is None or not interpretation.today:
        return []
    two = two_values(charted, rules=interpretation.rules)
    return [] if two is None or not two.to_explain else [_("Why: {parts}.").format(parts=two_values_line(two))]


def chart_note(
    charted: ChartedPressure,
    interpretation: Interpretation | None,
    *,
    signed: Sequence[str] = (),
    beside: Sequence[str] = (),
) -> str:
    """The session in about ten lines of plain text, ending in a line feed.

    signed : what the veterinarian signed, and amendments, a sentence each
    beside : what stands beside the charted pressure and never in its place, as converted values, a sentence each
    Invented data say so in the first line and in the last: a note is easily cut.
    """
    circumstances = charted.series.circumstances
    invented = invented_words(circumstances)
    digits = digits_of(charted, interpretation)
    setting = "; ".join(f"{name.lower()} {' '.join(value.split())}" for name, value in setting_lines(circumstances))
    verdicts = [judged.verdict for judged in charted.readings]
    counts = ", ".join(f"{verdicts.count(v)} {v}" for v in ("keep", "doubtful", "discard") if v in verdicts)
    lines = [
        *([invented] if invented else []),
        ended(_("Blood pressure by cuff: {who}").format(who=_who(circumstances))),
        *([ended(setting[0].upper() + setting[1:])] if setting else []),
        _("Readings: {n} ({counts}).").format(n=len(verdicts), counts=counts),
        *_pressures(charted, digits),
        *signed,
        _("Course: {course}. Guideline average: {average}.").format(
            course=course_line(charted), average=guideline_line(charted.guideline, digits)
        ),
        *([] if charted.systolic is not None else [finding_line(each) for each in charted.findings]),
        *beside,
        *_apart(charted, interpretation),
        *([] if interpretation is None else _meaning(interpretation)),
        _("Quietlimb engine {version}, fingerprint {fingerprint}.").format(
            version=ENGINE_VERSION, fingerprint=charted.fingerprint[:SHORT_FINGERPRINT]
        ),
        _("It advises, the veterinarian decides; not a certified medical device."),
        *([invented] if invented else []),
    ]
    return "\n".join(lines) + "\n"
