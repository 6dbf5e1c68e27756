"""What stands beside an animal in a list: its age, and the pressure that was charted last."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import OuterRef, Subquery
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.desk.months import day_of, shown_of, value_of
from quietlimb.clinic.pressures import mmhg
from quietlimb.clinic.sessions.models import Ending, Session
from quietlimb.clinic.sessions.selectors import height_of

MONTHS_UNTIL = 24  # an animal's age is told in months


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """An animal in a list. last is the pressure as text, of the day `on`; empty and None where there is none.

    systolic_mmhg : the same as a number, for sorting
    """

    animal: Animal
    age: str
    last: str
    on: date | None
    systolic_mmhg: float | None = None


def hits_of(animals: Iterable[Animal]) -> list[Hit]:
    """The animals with their age and the pressure of their last closed session, as signed or else as charted."""
    rows = list(animals)
    latest = Session.objects.filter(animal=OuterRef("animal"), ending=Ending.CLOSED).order_by("-started_at", "id")
    sessions = (
        Session.objects.filter(animal__in=[row.pk for row in rows], ending=Ending.CLOSED)
        .filter(pk=Subquery(latest.values("pk")[:1]))
        .select_related("animal__practice", "practice", "read_by")
        .prefetch_related("signed_values__amendments")
    )
    last = {session.animal_id: session for session in sessions}
    today = timezone.localdate()
    found = []
    for row in rows:
        session = last.get(row.pk)
        value, shown = (None, "") if session is None else _charted(session)
        on = day_of(session) if session is not None and shown else None
        age = "" if row.born is None else age_words(row.born, row.deceased_on or today)
        if row.born_about:
            age = _("about %(age)s") % {"age": age}
        found.append(Hit(animal=row, age=age, last=shown, on=on, systolic_mmhg=value))
    return found


def age_words(born: date, on: date) -> str:
    """An age in whole months up to two years, then in whole years."""
    months = (on.year - born.year) * 12 + on.month - born.month - (on.day < born.day)
    if months < MONTHS_UNTIL:
        return ngettext("%(n)d month", "%(n)d months", max(months, 0)) % {"n": max(months, 0)}
    return ngettext("%(n)d year", "%(n)d years", months // 12) % {"n": months // 12}


def _charted(session: Session) -> tuple[float | None, str]:
    """The pressure that stands, and as text: as it was chosen where it is signed, else as charted."""
    rules, species = session.practice.rules, session.animal.of_the_engine
    for signed in session.signed_values.all():
        return value_of(signed), shown_of(signed, rules, species)
    height = height_of(session).systolic_mmhg
    return height, "" if height is None else mmhg(height, rules=rules, species=species)
