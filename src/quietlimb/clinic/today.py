"""Today: short lists of what waits, each with its number, nothing where nothing waits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from quietlimb.clinic.animals.models import Animal, Recheck, Species
from quietlimb.clinic.beginning import steps_of
from quietlimb.clinic.bench.doubts import waiting as instruments_waiting
from quietlimb.clinic.bench.drifting import service_of
from quietlimb.clinic.lists import Asked, asked_of_a_list
from quietlimb.clinic.pressures import kpa, mmhg
from quietlimb.clinic.rights import Anyone, may, needs, person_of, visible
from quietlimb.clinic.sessions.models import LateReading, Session, SignedValue
from quietlimb.clinic.sessions.selectors import height_of
from quietlimb.clinic.sessions.table import is_kept_back
from quietlimb.clinic.sought import plain
from quietlimb.clinic.staff.selectors import ending_competences
from quietlimb.engine.interpretation.urgency import urgency_of

SIGNED_THERE = "Signed there: "  # as `interchange.incoming` writes it


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A session that waits for the veterinarian.

    systolic_mmhg : of its series that asks for more: low, or the highest; None where nothing was charted, or it is kept
                    back still
    shown         : the same as text
    urgent        : the veterinarian was called, or the pressure is low or severely raised
    low           : whether it is low
    whole         : False where one of its series cannot be charted, so that nobody knows how urgent it is
    """

    session: Session
    systolic_mmhg: float | None
    shown: str
    urgent: bool
    low: bool
    whole: bool

    @property
    def kpa(self) -> str:
        """The same in kPa, for who chose that."""
        return "" if self.systolic_mmhg is None else kpa(self.systolic_mmhg)

    @property
    def signed_there(self) -> str:
        """What somebody signed elsewhere of an imported session, as its page tells it; empty where nobody has."""
        lines = self.session.imported_from.splitlines()
        return next((line.strip() for line in lines if line.strip().startswith(SIGNED_THERE)), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """An animal that is due; `last` is the pressure that was charted last, as text."""

    recheck: Recheck
    last: str
    overdue: bool

    @property
    def kpa(self) -> str:
        """The same in kPa, for who chose that."""
        return "" if self.recheck.last_charted is None else kpa(self.recheck.last_charted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """A signed session beside which readings have come that no veterinarian has looked at.

    numbers : of each, in the order taken
    urgent  : one of them is low or severely raised
    """

    session: Session
    numbers: tuple[str, ...]
    urgent: bool


DUE_CHOICES = {
    "due": (_("Sort by"), [("", _("the longest overdue first")), ("name", _("name")), ("high", _("pressure"))]),
    "species": (_("Species"), [("", _("cats and dogs")), *Species.choices]),
    "contact": (_("Owner"), [("", _("told or not")), ("none", _("not told yet")), *Recheck.Contact.choices]),
}


@needs("look")
@require_safe
def today(request: HttpRequest) -> HttpResponse:
    """The page that a person comes to first."""
    person = person_of(request)
    asked = asked_of_a_list(request, DUE_CHOICES)
    every = due(person, timezone.localdate())
    now = timezone.localdate()
    instruments, unchecked = instruments_waiting(person, person.practice, now, service_of(person.practice, now))
    lists = {
        "open_sessions": list(open_sessions(person)),
        "waiting": waiting_for_the_veterinarian(person),
        "due": as_asked(every, asked),
        "due_count": len(every),
        "asked": asked,
        "steps": steps_of(person),
        "late": late_readings(person),
        "may_measure": may(person, "measure"),
        "may_contact": may(person, "contact"),
        "contacts": Recheck.Contact.choices,
        "instruments": instruments,
        "unchecked": unchecked if may(person, "check") else 0,
        "competences": ending_competences(person, timezone.localdate()),
    }
    return render(request, "today.html", lists)


def open_sessions(person: Anyone) -> QuerySet[Session]:
    """Sessions that have not ended, the newest first."""
    return visible(person, Session).filter(ending="").select_related("animal", "animal__owner", "started_by")


def waiting_for_the_veterinarian(person: Anyone) -> list[Waiting]:
    """Sessions that have ended, or to which the veterinarian was called, and that nobody has signed.

    First those to which she was called, then the urgent, then what cannot be charted, then the longest waiting.

    All of them are charted, however many there are: an urgent one must not be buried behind the end of a list.
    """
    unsigned = (
        visible(person, Session)
        .exclude(ending="", called_at=None)
        .exclude(Exists(visible(person, SignedValue).filter(session=OuterRef("pk"))))
        .select_related("animal__owner", "animal__practice", "read_by", "practice", "called_by")
        .prefetch_related("series__readings__recording", "series__instrument", "series__cuff")
    )
    found = []
    for session in unsigned:
        height = height_of(session)
        systolic = None if is_kept_back(session) else height.systolic_mmhg
        urgency = None if systolic is None else height.urgency
        urgent = urgency is not None or session.called_at is not None
        shown = "" if systolic is None else _shown(systolic, session.animal)
        found.append(
            Waiting(
                session=session,
                systolic_mmhg=systolic,
                shown=shown,
                urgent=urgent,
                low=urgency == "low",
                whole=height.whole,
            )
        )
    return sorted(
        found,
        key=lambda each: (
            each.session.called_at is None,
            not each.urgent,
            each.whole,
            each.session.ended_at or each.session.started_at,
        ),
    )


def late_readings(person: Anyone) -> list[Late]:
    """Signed sessions beside which readings wait to be looked at, the urgent first, then the latest."""
    rows = visible(person, LateReading).filter(looked_at=None).select_related("series__session__animal__owner")
    by_session: dict[Session, list[LateReading]] = {}
    for row in rows.order_by("taken_at", "ordinal"):
        by_session.setdefault(row.series.session, []).append(row)
    found = [
        Late(
            session=session,
            numbers=tuple(row.numbers for row in late if row.systolic is not None),
            urgent=any(_is_urgent(row) for row in late),
        )
        for session, late in by_session.items()
    ]
    return sorted(found, key=lambda each: (not each.urgent, -each.session.started_at.timestamp()))


def _is_urgent(row: LateReading) -> bool:
    if row.systolic is None or row.spoiled:
        return False
    return urgency_of(row.systolic, row.mean) is not None


def due(person: Anyone, on: date) -> list[Due]:
    """Animals whose time to be measured again has come, the longest overdue first; neither those that
    have died nor doubles."""
    rechecks = (
        visible(person, Recheck)
        .filter(due_from__lte=on, animal__deceased_on__isnull=True, animal__merged_into=None)
        .select_related("animal__owner", "animal__practice", "contact_by")
    )
    found = []
    for recheck in rechecks:
        last = "" if recheck.last_charted is None else _shown(recheck.last_charted, recheck.animal)
        found.append(Due(recheck=recheck, last=last, overdue=recheck.due_by < on))
    return found


def as_asked(every: list[Due], asked: Asked) -> list[Due]:
    """The animals that are due, filtered and sorted as the address asks; not asked, as they are."""
    species, contact = asked.of("species"), asked.of("contact")
    found = [
        each
        for each in every
        if species in ("", each.recheck.animal.species) and contact in ("", each.recheck.contact_now or "none")
    ]
    if asked.of("due") == "name":
        found.sort(key=lambda each: plain(each.recheck.animal.name))
    elif asked.of("due") == "high":
        found.sort(key=lambda each: -(each.recheck.last_charted or 0.0))
    return found


def _shown(systolic_mmhg: float, animal: Animal) -> str:
    rules, species = animal.practice.rules, animal.species
    return mmhg(systolic_mmhg, rules=rules, species=species)  # type: ignore[arg-type]  # the engine's words
