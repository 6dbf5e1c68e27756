"""The owner's page of a signed session."""

from __future__ import annotations

from datetime import date

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from quietlimb.clinic.animals.models import Animal, Recheck
from quietlimb.clinic.desk.basis import Basis
from quietlimb.clinic.desk.beside import sessions_of_the_day
from quietlimb.clinic.desk.months import day_of, history_of, shown_of, value_of
from quietlimb.clinic.sessions.models import SignedValue
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.standards.rule_sets import rule_set
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.reports.owner import OwnerPage
from quietlimb.words import owner as words
from quietlimb.words.owner import Height

# Every rule set has four categories; the owner hears of each in one plain word.
IN_ORDER: tuple[Height, ...] = ("not raised", "somewhat raised", "high", "very high")


def owner_page(signed: SignedValue, basis: Basis, today: date) -> OwnerPage:
    """The page as it is printed today: the value that stands, the next date, the practice's words and numbers."""
    animal, practice = signed.session.animal, signed.practice
    treated = history_of(animal).treated
    first, last = _window(animal)
    day = date_format(day_of(signed.session), "j F Y")
    own_words = tuple(line.strip() for line in practice.preparing.splitlines() if line.strip())
    return OwnerPage(
        practice=practice.name,
        animal=animal.name,
        day=_("{species}, measured on {day}").format(species=capfirst(animal.get_species_display()), day=day),
        sentence=_sentence(signed, basis),
        not_looked_at=words.not_looked_at_sentence(words.not_looked_at(basis.interpretation.organs)),
        next=words.next_sentence(first, last, today=today.isoformat()),
        preparing=own_words or tuple(words.preparing(basis.species, animal=animal.name, treated=treated)),
        danger=words.danger_sentence(animal.name),
        by_day=practice.telephone_day,
        by_night=practice.telephone_night,
        tablets=words.tablets_sentence(animal.name) if treated else "",
        ticked_from=day_of(signed.session) if treated else None,
        signed=_("signed by {name}, {day}").format(
            name=signed.signed_by.name, day=date_format(timezone.localtime(signed.signed_at), "j F Y")
        ),
        invented=INVENTED_WORDS if practice.invented else None,
    )


def height_of(systolic_mmhg: float | None, rules: RuleSet, *, treated: bool = False) -> Height:
    """In which of the owner's words a pressure is. Under treatment what is below the least goal is as it should be."""
    if systolic_mmhg is None:
        return "none"
    if systolic_mmhg < SYSTOLIC_BELOW.value:
        return "low"
    goal = rules.goals.minimum_below
    if treated and goal is not None and systolic_mmhg < goal.value:
        return "at goal"
    return IN_ORDER[rules.categories.index(rules.category_of(systolic_mmhg))]


def _sentence(signed: SignedValue, basis: Basis) -> str:
    value, rules = value_of(signed), rule_set(basis.rules, basis.species)
    # on the day: treatment begun because of this session is not what brought it there
    treated = basis.background.treated
    height = height_of(value, rules, treated=treated)
    shown = shown_of(signed, basis.rules, basis.species)
    told = [words.height_sentence(height, animal=signed.session.animal.name, mmhg=shown)]
    worst = max(
        (each for each in sessions_of_the_day(signed.session) if each.signed and each.systolic_mmhg is not None),
        key=lambda each: need(each.systolic_mmhg or 0.0),
        default=None,
    )
    if worst is not None and worst.systolic_mmhg is not None:
        other = height_of(worst.systolic_mmhg, rules, treated=treated)
        asks_for_more = value is None or need(worst.systolic_mmhg) > need(value)
        if asks_for_more and other != height:
            told.append(words.same_day_sentence(other, mmhg=worst.shown))
    return " ".join(told)


def _window(animal: Animal) -> tuple[str | None, str | None]:
    found = Recheck.objects.filter(animal=animal).first()
    return (None, None) if found is None else (found.due_from.isoformat(), found.due_by.isoformat())
