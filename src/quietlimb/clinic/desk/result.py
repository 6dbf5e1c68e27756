"""What the session page says, in words: arranged from finished values, nothing decided."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from quietlimb.clinic.desk.basis import Basis
from quietlimb.clinic.desk.months import value_of
from quietlimb.clinic.pressures import as_chosen, guideline_in_kpa, kpa, kpa_with_interval
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.engine.interpretation.acting import MOST_REASONS, can_act
from quietlimb.engine.interpretation.categories import category_of
from quietlimb.engine.interpretation.cautions import BEND_THE_VALUE
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.session.two_values import two_values
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.reports.phrases import (
    advice_line,
    caution_lines,
    course_line,
    digits_of,
    finding_line,
    guideline_line,
    two_values_line,
    why,
    with_interval,
)
from quietlimb.reports.setting import setting_lines
from quietlimb.words import acting as acting_words
from quietlimb.words import advice as advice_words
from quietlimb.words import cautions as caution_words
from quietlimb.words.advice import Reader
from quietlimb.words.breeds import breed_sentence
from quietlimb.words.categories import heading, pressure_range, share_name, value_name
from quietlimb.words.clues import clue_sentence
from quietlimb.words.in_record import record_sentence
from quietlimb.words.numerals import percent
from quietlimb.words.organs import check_state, organ_name
from quietlimb.words.other_rules import other_rules_sentences, would_change_sentence
from quietlimb.words.sources import day_to_day_source, rules_and_standing
from quietlimb.words.status import status_sentence

MOST_CHANGES = 3
LOW_TOLD_FROM = 0.01  # probability, as the command line has it


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """One category with its probabilities as text."""

    name: str
    pressures: str
    today: str
    animal: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One reading with its worth."""

    number: int
    minute: str
    systolic: str
    kpa: str
    weight: str
    verdict: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """The page, from the card down to the cautions.

    before   : the cautions that bend the value itself; they stand before anything that is said of it
    cautions : the others
    converted, not_converted, others_not_converted : beside what was charted, as `ConversionLines` has them
    """

    before: tuple[str, ...]
    answer: str
    at_once: bool
    reasons: tuple[str, ...]
    changes: tuple[str, ...]
    charted: str
    charted_kpa: str
    guideline_kpa: str
    guideline: str
    apart: str
    course: str
    findings: tuple[str, ...]
    heading: str
    rule_set: str
    chances: tuple[Chance, ...]
    status: str
    rests_on: tuple[date, ...]
    day_to_day: str
    next: tuple[tuple[str, str], ...]
    others: tuple[str, ...]
    organs: tuple[tuple[str, str], ...]
    animal: tuple[str, ...]
    cautions: tuple[str, ...]
    readings: tuple[Judged, ...]
    setting: tuple[tuple[str, str], ...]
    converted: tuple[str, ...]
    not_converted: tuple[str, ...]
    others_not_converted: tuple[str, ...]


def result_of(basis: Basis, on: date, *, to: Reader = "anyone") -> Result:
    """The page of a basis, for a session of this day, told to whoever reads it."""
    found, charted = basis.interpretation, basis.charted
    acting, digits = can_act(found), 0 if charted is None else digits_of(charted, found)
    value = None if charted is None else charted.systolic
    two = None if charted is None or found.category is None else two_values(charted, rules=basis.rules)
    status = found.status
    reasons = acting_words.reasons(acting, found, to=to)
    before = tuple(caution_words.sentence(each) for each in found.cautions if each.code in BEND_THE_VALUE)
    return Result(
        before=before,
        answer=acting_words.answer(acting),
        at_once=acting.at_once,
        reasons=(basis.trouble, *reasons[: MOST_REASONS - 1]) if basis.trouble else tuple(reasons),
        changes=tuple(would_change_sentence(each) for each in found.would_change[:MOST_CHANGES]),
        charted="" if value is None else with_interval(value, digits),
        charted_kpa="" if value is None else kpa_with_interval(value),
        guideline_kpa=guideline_in_kpa(None if charted is None else charted.guideline),
        guideline=guideline_line(None if charted is None else charted.guideline, digits),
        apart="" if two is None or not two.to_explain else two_values_line(two),
        course="" if charted is None else course_line(charted),
        findings=() if charted is None else tuple(finding_line(each) for each in charted.findings),
        heading=heading(found),
        rule_set=rules_and_standing(found),
        chances=_chances(found),
        day_to_day=f"{found.day_to_day_sd:.0f} mmHg {day_to_day_source(found)}",
        status="" if status is None else status_sentence(status),
        rests_on=() if status is None else tuple(on - timedelta(days=round(days)) for days in status.rests_on),
        next=tuple((advice_line(each, to=to), f"{advice_words.source_line(each)} {each.place}") for each in found.next),
        others=tuple(other_rules_sentences(found.others)),
        organs=tuple((organ_name(check.organ), check_state(check)) for check in found.organs),
        animal=(
            *(clue_sentence(clue) for clue in found.clues),
            *(record_sentence(each, basis.species) for each in found.in_record),
            *(() if found.breed is None else (breed_sentence(found.breed),)),
        ),
        cautions=tuple(line for line in caution_lines(found) if line not in before),
        readings=_judged(basis),
        setting=tuple(setting_lines(basis.circumstances)),
        converted=basis.converted.converted,
        not_converted=basis.converted.refused,
        others_not_converted=basis.converted.others,
    )


def _chances(found: Interpretation) -> tuple[Chance, ...]:
    chances = [
        Chance(
            name=share_name(found, today.name),
            pressures=pressure_range(today.from_mmhg, today.to_mmhg),
            today=percent(today.probability),
            animal=percent(animal.probability),
            here=today.name == found.category,
        )
        for today, animal in zip(found.today, found.animal, strict=True)
    ]
    low = (found.low_today or 0.0, found.low_animal or 0.0)
    if chances and max(low) >= LOW_TOLD_FROM:
        under = pressure_range(None, SYSTOLIC_BELOW.value)
        name = _("of these, low")
        chances.insert(1, Chance(name=name, pressures=under, today=percent(low[0]), animal=percent(low[1]), here=False))
    return tuple(chances)


def _judged(basis: Basis) -> tuple[Judged, ...]:
    charted = basis.charted
    if charted is None:
        return ()
    return tuple(
        Judged(
            number=k + 1,
            minute=f"{judged.minute:.1f}",
            systolic=f"{charted.series.systolic[k]:.0f}" if charted.series.systolic[k] > 0 else "-",
            kpa=kpa(float(charted.series.systolic[k])) if charted.series.systolic[k] > 0 else "",
            weight="-" if judged.systolic_weight is None else f"{judged.systolic_weight:.2f}",
            verdict=judged.verdict,
            why=why(judged),
        )
        for k, judged in enumerate(charted.readings)
    )


def signed_lines(signed: SignedValue, basis: Basis) -> list[str]:
    """What was signed, by whom and when, and every amendment beside it, a sentence each."""
    charted = _mmhg(signed.charted, basis)
    if signed.chosen == signed.charted:
        value = charted
    else:
        value = _("{chosen} in place of the charted {charted} ({reason})").format(
            chosen=_mmhg(signed.chosen, basis), charted=charted, reason=signed.reason
        )
    lines = [
        _("Signed: {value}, by {name}, {at}.").format(value=value, name=signed.signed_by.name, at=_at(signed.signed_at))
    ]
    for amendment in signed.amendments.all():
        told = [_("no valid value")] if amendment.withdrawn else []
        told += [] if amendment.chosen is None else [_mmhg(amendment.chosen, basis)]
        told += [amendment.text.rstrip(".")] if amendment.text else []
        lines.append(
            _("Amended by {name}, {at}: {told}. Why: {why}.").format(
                name=amendment.by.name, at=_at(amendment.at), told="; ".join(told), why=amendment.why.rstrip(".")
            )
        )
    lines += [
        _("Beside it, not signed: {series}.").format(series=each.shown(basis.rules, basis.species))
        for each in basis.beside
    ]
    if signed.amendments.all():
        stands = value_of(signed)
        lines.append(
            _("No value stands now.")
            if stands is None
            else _("It now stands at {value}.").format(value=_mmhg(stands, basis))
        )
    return lines


def _mmhg(value: float | None, basis: Basis) -> str:
    """A pressure with the category that it has by itself."""
    if value is None:
        return _("no value")
    if basis.charted is not None and value == basis.systolic_mmhg:
        shown = f"{value:.{digits_of(basis.charted, basis.interpretation)}f}"
    else:
        shown = as_chosen(value, rules=basis.rules, species=basis.species)
    category = category_of(value, rule_set(basis.rules, basis.species))
    low = value < SYSTOLIC_BELOW.value
    if value == basis.systolic_mmhg and basis.interpretation.category is None and not low:
        return f"{shown} mmHg"  # withheld, for its readings were not consistent
    return f"{shown} mmHg ({value_name(value, category)})"


def _at(moment: datetime) -> str:
    return date_format(timezone.localtime(moment), "j F Y, H:i")
