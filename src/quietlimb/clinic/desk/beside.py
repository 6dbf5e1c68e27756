"""What stands beside the series that is looked at: other series of its session, and other sessions of its day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.desk.months import shown_of, value_of
from quietlimb.clinic.pressures import mmhg
from quietlimb.clinic.sessions.forms import recalled_line
from quietlimb.clinic.sessions.models import Series, Session, SignedValue
from quietlimb.clinic.sessions.selectors import height_of, pressures_of, told_of
from quietlimb.clinic.sessions.table import is_kept_back
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.interpretation.urgency import need, urgency_of
from quietlimb.engine.standards.rule_set import RuleSet


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Another series of the session.

    name          : instrument, site, cuff, position, place
    systolic_mmhg : as charted; None where nothing was, or it cannot be
    mean_mmhg     : None where there is none
    """

    ordinal: int
    name: str
    systolic_mmhg: float | None
    mean_mmhg: float | None

    def asks_for_more(self, systolic_mmhg: float | None, mean_mmhg: float | None, rules: RuleSet) -> bool:
        """Whether it is to be acted on in another way than this pressure: low, or in a higher category."""
        if self.systolic_mmhg is None:
            return False
        if systolic_mmhg is None:
            return True
        if need(self.systolic_mmhg, self.mean_mmhg) <= need(systolic_mmhg, mean_mmhg):
            return False
        low = urgency_of(self.systolic_mmhg, self.mean_mmhg) == "low"
        return low or rules.level(self.systolic_mmhg) != rules.level(systolic_mmhg)

    def shown(self, rules: str, species: Species) -> str:
        """`Series 2 (grey box, left forelimb): 144 mmHg`."""
        if self.systolic_mmhg is None:
            value = _("nothing charted")
        else:
            value = f"{mmhg(self.systolic_mmhg, rules=rules, species=species)} mmHg"
        return _("Series {n} ({name}): {value}").format(n=self.ordinal, name=self.name, value=value)


def series_beside(session: Session, shown: Series | None) -> tuple[Beside, ...]:
    """The other series of a session that have a reading, in their order."""
    found = []
    for series in session.series.select_related("instrument", "cuff").order_by("ordinal"):
        if shown is not None and series.pk == shown.pk:
            continue
        series.session = session
        rows = list(series.readings.select_related("recording"))
        if not any(row.counts for row in rows):
            continue
        try:
            answer = told_of(series, rows)
        except QuietlimbError:
            answer = None  # its own page tells why it cannot be charted
        charted = answer is not None and answer.charted.systolic is not None
        systolic, mean = pressures_of(answer.charted) if answer is not None and charted else (None, None)
        found.append(Beside(ordinal=series.ordinal, name=recalled_line(series), systolic_mmhg=systolic, mean_mmhg=mean))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class OfTheDay:
    """Another session of the day.

    systolic_mmhg : as it stands, or as charted where nobody has signed; None where there is none, or it is kept back
    shown         : the same as text
    """

    session: Session
    systolic_mmhg: float | None
    shown: str
    signed: bool

    @property
    def urgent(self) -> bool:
        """Whether it is low or severely raised."""
        return self.systolic_mmhg is not None and urgency_of(self.systolic_mmhg) is not None


def sessions_of_the_day(session: Session) -> list[OfTheDay]:
    """The other sessions of the animal on the day of this one, in the order of their times."""
    day = timezone.localtime(session.started_at).date()
    first = datetime.combine(day, time.min, timezone.get_current_timezone())
    rows = (
        session.animal.sessions.filter(started_at__gte=first, started_at__lt=first + timedelta(days=1))
        .exclude(pk=session.pk)
        .select_related("animal", "practice", "read_by")
        .prefetch_related(
            "signed_values__amendments", "series__readings__recording", "series__instrument", "series__cuff"
        )
        .order_by("started_at", "pk")
    )
    return [_of_the_day(row) for row in rows]


def _of_the_day(session: Session) -> OfTheDay:
    signed: SignedValue | None = next(iter(session.signed_values.all()), None)
    rules, species = session.practice.rules, session.animal.of_the_engine
    if signed is not None:
        value, shown = value_of(signed), shown_of(signed, rules, species)
    else:
        value = None if is_kept_back(session) else height_of(session).systolic_mmhg
        shown = "" if value is None else mmhg(value, rules=rules, species=species)
    return OfTheDay(session=session, systolic_mmhg=value, shown=shown, signed=signed is not None)
