"""The session for the veterinarian, signing, and the animal over months."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import timedelta
from functools import partial
from typing import Any

from django.db.models import F, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l
from django.views.decorators.http import require_POST, require_safe

from quietlimb.clinic.animals.models import Animal, Condition, Recheck
from quietlimb.clinic.bench.doubts import told_of_session
from quietlimb.clinic.desk import documents, owner, signing, telling
from quietlimb.clinic.desk.basis import Basis, basis_of, series_to_show, thawed
from quietlimb.clinic.desk.beside import sessions_of_the_day
from quietlimb.clinic.desk.conditions import conditions_of
from quietlimb.clinic.desk.course import asked_of, course_of, followed, state_words, worked_at_the_table
from quietlimb.clinic.desk.course import months_picture as drawn_months
from quietlimb.clinic.desk.forms import (
    AmendmentForm,
    ConditionEndForm,
    ConditionForm,
    EventForm,
    OrgansForm,
    SignForm,
)
from quietlimb.clinic.desk.months import day_of, shown_of, value_of
from quietlimb.clinic.desk.rechecks import kept_recheck
from quietlimb.clinic.desk.result import result_of
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.lists import Asked, asked_of_a_list
from quietlimb.clinic.pressures import mmhg
from quietlimb.clinic.rights import fetch, may, needs, person_of, visible
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.forms import recalled_line
from quietlimb.clinic.sessions.models import Series, Session, SignedValue
from quietlimb.clinic.sessions.selectors import ORGANS_COUNT_AFTER_DAYS, height_of, late_readings_of
from quietlimb.clinic.sessions.table import is_kept_back
from quietlimb.clinic.teaching.panel import at_the_end
from quietlimb.clinic.teaching.room import is_room
from quietlimb.exchange.readings_csv import readings_text
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.figures.look import Theme
from quietlimb.reports import owner as reports_owner
from quietlimb.reports.errors import ReportError
from quietlimb.words.advice import Reader

NARROWEST, WIDEST = 340, 1200  # px of a picture
MOST_SHOWN = 100  # sessions on the animal's page
MOST_ENTRIES = 200
BELONGS = timedelta(days=ORGANS_COUNT_AFTER_DAYS)
LATEST = ("-on", F("entered_at").desc(nulls_last=True))


@needs("look")
@require_safe
def result(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The page of a session: the card, what it means, organs, signing; weights and history of the record below."""
    session = fetch(person_of(request), "look", Session, pk=session_id)
    if _is_hidden(request, session):
        return redirect("table", session.pk)
    return _result(request, session)


@needs("sign")
@require_POST
def organs_add(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """What was seen of the organs, on the day of the session."""
    person = person_of(request)
    session = fetch(person, "sign", Session, pk=session_id)
    form = _organs_form(session, request.POST)
    if not form.is_valid():
        return _result(request, session, organs=form)
    on = form.cleaned_data["on"]
    telling.organs_add(person, animal=session.animal, on=on, findings=form.findings(), at=timezone.now())
    return _back(request, session, "#sign")


@needs("sign")
@require_POST
def sign(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Accept, or chart another value with a reason; an open session ends with it."""
    person = person_of(request)
    session = fetch(person, "sign", Session, pk=session_id)
    series = series_to_show(session, request.GET.get("series", ""))
    form = _sign_form(basis_of(session, series), request.POST, is_open=session.is_open)
    if not form.is_valid():
        return _result(request, session, sign=form)
    try:
        signing.value_sign(
            person,
            session=session,
            series=series,
            looked_at=form.cleaned_data["looked_at"],
            chosen=form.chosen,
            reason=form.cleaned_data["reason"],
            at=timezone.now(),
        )
    except EntryError as error:
        return _result(request, session, refused=f"{error.says}; {error.remedy}.", status=409)
    return redirect("result", session.pk)


@needs("sign")
@require_POST
def amend(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """An amendment beside the signed value."""
    person = person_of(request)
    session = fetch(person, "sign", Session, pk=session_id)
    signed = _signed(session)
    if signed is None:
        return _not_signed(request)
    form = AmendmentForm(request.POST)
    if not form.is_valid():
        return _result(request, session, amendment=form)
    late = request.POST.getlist("late")
    signing.amendment_add(person, signed_value=signed, at=timezone.now(), late=late, **form.cleaned_data)
    return redirect("result", session.pk)


@needs("sign")
@require_POST
def late_readings(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """What came after the signature has been looked at, and the signed value stands."""
    person = person_of(request)
    session = fetch(person, "sign", Session, pk=session_id)
    signing.late_readings_look(person, session=session, at=timezone.now(), keys=request.POST.getlist("late"))
    return redirect("result", session.pk)


@needs("look")
@require_safe
def session_picture(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The picture of a session as it is for the record."""
    session = fetch(person_of(request), "look", Session, pk=session_id)
    signed = _signed(session)
    if _is_hidden(request, session):
        return _svg(None)
    basis = thawed(signed) if signed else basis_of(session, series_to_show(session, request.GET.get("series", "")))
    return _svg(documents.picture(basis, **_drawn_as(request)))


@needs("look")
@require_safe
def page(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The page for the record; there is none before it is signed."""
    session = fetch(person_of(request), "look", Session, pk=session_id)
    signed = _signed(session)
    if signed is None:
        return _not_signed(request)
    try:
        made = documents.page(signed, thawed(signed))
    except ReportError as error:
        return _plain(request, f"{error.says}; {error.remedy}.", 409)
    if made is None:
        return _plain(request, _("No pressure was obtained; the note tells it."), 409)
    return _pdf(made, documents.file_name(signed, "pdf"))


@needs("look")
@require_safe
def owner_page(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """What the owner takes home; there is none before it is signed."""
    session = fetch(person_of(request), "look", Session, pk=session_id)
    signed = _signed(session)
    if signed is None:
        return _not_signed(request)
    if session.animal.deceased_on:
        return _has_died(request)
    made = owner.owner_page(signed, thawed(signed), timezone.localdate())
    return render(request, "desk/owner.html", {"session": session, "page": made})


@needs("look")
@require_safe
def owner_pdf(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The same to print."""
    signed = _signed(fetch(person_of(request), "look", Session, pk=session_id))
    if signed is None:
        return _not_signed(request)
    if signed.session.animal.deceased_on:
        return _has_died(request)
    today = timezone.localdate()
    try:
        told = owner.owner_page(signed, thawed(signed), today)
        made = reports_owner.owner_pdf(told, created=today.isoformat(), substitute=documents.NO_SUCH_LETTER)
    except ReportError as error:
        return _plain(request, f"{error.says}; {error.remedy}.", 409)
    return _pdf(made, documents.file_name(signed, "pdf", of=_("for the owner")))


@needs("look")
@require_safe
def readings(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The signed readings as CSV, as `quietlimb chart` reads them."""
    session = fetch(person_of(request), "look", Session, pk=session_id)
    signed = _signed(session)
    if signed is None:
        return _not_signed(request)
    series = thawed(signed).series
    if series is None:
        return _plain(request, _("No pressure was obtained; there are no readings."), 409)
    headers = {"Content-Disposition": f'attachment; filename="{documents.file_name(signed, "csv")}"'}
    return HttpResponse(
        readings_text(series, invented=INVENTED_WORDS if session.practice.invented else None),
        content_type="text/csv; charset=utf-8",
        headers=headers,
    )


@needs("look")
@require_safe
def animal(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """An animal over months: picture, level, change, recheck, what worked at the table, sessions, events."""
    row = fetch(person_of(request), "look", Animal, pk=animal_id)
    return redirect("animal", row.merged_into_id) if row.merged_into_id else _animal(request, row, EventForm())


@needs("look")
@require_safe
def months_picture(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """The picture of the months."""
    row = fetch(person_of(request), "look", Animal, pk=animal_id)
    asked = asked_of(row, timezone.localdate())
    return _svg(None if asked is None else drawn_months(asked, **_drawn_as(request)))


@needs("sign")
@require_POST
def event_add(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """Something about the treatment."""
    person = person_of(request)
    row = fetch(person, "sign", Animal, pk=animal_id)
    form = EventForm(request.POST)
    if not form.is_valid():
        return _animal(request, row, form, status=422)
    telling.event_add(person, animal=row, event=form.save(commit=False))
    return redirect("animal", row.pk)


@needs("sign")
@require_POST
def condition_add(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """An illness, or a class of drugs, that stands in the record."""
    person = person_of(request)
    row = fetch(person, "sign", Animal, pk=animal_id)
    form = ConditionForm(request.POST)
    if not form.is_valid():
        return _animal(request, row, EventForm(), condition_form=form, status=422)
    telling.condition_add(person, animal=row, condition=form.condition)
    return redirect("animal", row.pk)


@needs("sign")
@require_POST
def condition_end(request: HttpRequest, condition_id: uuid.UUID) -> HttpResponse:
    """Until when it was there."""
    person = person_of(request)
    row = fetch(person, "sign", Condition, pk=condition_id)
    form = ConditionEndForm(request.POST, condition=row)
    if not form.is_valid():
        return _animal(request, row.animal, EventForm(), ending={row.pk: form}, status=422)
    telling.condition_end(person, condition=row, until=form.cleaned_data["until"])
    return redirect("animal", row.animal_id)


def _result(
    request: HttpRequest, session: Session, *, refused: str = "", status: int | None = None, **forms: Any
) -> HttpResponse:
    """The page; forms that were refused stand in place of fresh ones."""
    signed = _signed(session)
    series = series_to_show(session, request.GET.get("series", ""))
    basis = thawed(signed) if signed else basis_of(session, series)
    context = {
        "session": session,
        "signed": signed,
        "signed_lines": documents.told_of_signing(signed, basis) if signed else (),
        "stands": _amended(signed),
        "note": documents.note(signed, basis) if signed else "",
        "series": series,
        "picture_of": mark_safe(f"&amp;series={series.ordinal}") if series and not signed else "",
        "all_series": _tabs(session, series, basis),
        "beside": [each.shown(basis.rules, basis.species) for each in basis.beside],
        "outdone_by": [each.shown(basis.rules, basis.species) for each in basis.outdone_by],
        "of_the_day": sessions_of_the_day(session),
        "result": result_of(basis, day_of(session), to=_reader(request)),
        "findings": session.animal.organ_findings.filter(on__lte=day_of(session) + BELONGS).order_by(*LATEST)[:10],
        "late": late_readings_of(session),
        "of_instruments": told_of_session(session),
        "may_sign": may(request.user, "sign", session),
        "may_measure": may(request.user, "measure", session),
        "refused": refused,
        "organs": _organs_form(session, None),
        "sign": _sign_form(basis, None, is_open=session.is_open),
        "amendment": AmendmentForm(),
        "entries": _entries(request, session),
        "truth": at_the_end(session) if is_room(request) else None,
        **forms,
    }
    return render(request, "desk/result.html", context, status=status or (422 if forms else 200))


def _amended(signed: SignedValue | None) -> str:
    """What stands in place of the signed value since it was amended, as a sentence; empty where it stands itself."""
    if signed is None or value_of(signed) == signed.chosen:
        return ""
    value = shown_of(signed, signed.rules, signed.session.animal.of_the_engine)
    if not value:
        return _("It was taken back: no value stands. What follows is of the value as charted.")
    return _("Amended: {value} mmHg stands. What follows is of the value as charted.").format(value=value)


def _reader(request: HttpRequest) -> Reader:
    return "veterinarian" if may(request.user, "sign") else "anyone"


def _tabs(session: Session, shown: Series | None, basis: Basis) -> list[tuple[int, str, bool]]:
    """Ordinal, name and whether it is the one shown, of each series."""
    value = basis.systolic_mmhg
    own = "" if value is None else f": {mmhg(value, rules=basis.rules, species=basis.species)} mmHg"
    beside = {each.ordinal: each.shown(basis.rules, basis.species) for each in basis.beside}
    found = []
    for series in session.series.select_related("instrument", "cuff").order_by("ordinal"):
        series.session = session
        here = shown is not None and series.pk == shown.pk
        name = _("Series {n} ({name})").format(n=series.ordinal, name=recalled_line(series))
        found.append((series.ordinal, beside.get(series.ordinal, name + own if here else name), here))
    return found


def _organs_form(session: Session, sent: Any) -> OrgansForm:
    return OrgansForm(sent, day=day_of(session), today=timezone.localdate())


def _sign_form(basis: Basis, sent: Any, *, is_open: bool) -> SignForm:
    charted = basis.charted
    average = None if charted is None or charted.guideline is None else charted.guideline.systolic
    shown = partial(mmhg, rules=basis.rules, species=basis.species, least=1)
    initial = {"looked_at": basis.digest}
    beside = [each.shown(basis.rules, basis.species) for each in basis.outdone_by]
    return SignForm(
        sent,
        charted=basis.systolic_mmhg,
        guideline=average,
        shown=shown,
        is_open=is_open,
        beside="" if not beside else beside[0],
        initial=initial,
    )


def _animal(
    request: HttpRequest,
    row: Animal,
    form: EventForm,
    *,
    condition_form: ConditionForm | None = None,
    ending: Mapping[uuid.UUID, ConditionEndForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page; forms that were refused stand in place of fresh ones."""
    asked = asked_of(row, timezone.localdate())
    of_sessions = asked_of_a_list(request, SESSION_CHOICES)
    context = {
        "animal": row,
        "asked_sessions": of_sessions,
        "unsigned": row.sessions.exclude(ending="").filter(signed_values=None).exists(),
        "count": row.sessions.count(),
        "state": "" if (found := _recheck(row)) is None else state_words(found, timezone.localdate()),
        "course": None if asked is None else course_of(followed(asked), to=_reader(request)),
        "sessions": _sessions(row, of_sessions),
        "events": row.events.order_by("-on"),
        "conditions": [
            (each, (ending or {}).get(each.row.pk) or ConditionEndForm(condition=each.row, auto_id=f"{each.row.pk}-%s"))
            for each in conditions_of(row)
        ],
        "condition_form": condition_form or ConditionForm(),
        "doubles": row.doubles.order_by("name", "id"),
        "recheck": _recheck(row),
        "worked": worked_at_the_table(row),
        "may_sign": may(request.user, "sign", row),
        "may_measure": may(request.user, "measure", row),
        "may_import": may(request.user, "import", row),
        "has_signed": row.sessions.filter(signed_values__isnull=False).exists(),
        "form": form,
    }
    return render(request, "desk/animal.html", context, status=status)


SESSION_CHOICES = {
    "order": (
        _l("Sort by"),
        [("", _l("the latest first")), ("oldest", _l("the oldest first")), ("high", _l("pressure, the highest first"))],
    ),
    "state": (
        _l("Show"),
        [("", _l("all")), ("signed", _l("signed")), ("unsigned", _l("not signed")), ("open", _l("open"))],
    ),
    "place": (_l("Place"), [("", _l("all places")), *Session.Place.choices]),
}


def _sessions(row: Animal, asked: Asked) -> list[tuple[Session, SignedValue | None, str]]:
    """Its sessions as they are asked for, each with what was signed and the value that stands, as text."""
    rows = row.sessions.order_by("started_at" if asked.of("order") == "oldest" else "-started_at", "id")
    if asked.of("place"):
        rows = rows.filter(place=asked.of("place"))
    if asked.of("state") == "signed":
        rows = rows.filter(signed_values__isnull=False)
    elif asked.of("state"):
        rows = rows.filter(signed_values=None)
        rows = rows.filter(ending="") if asked.of("state") == "open" else rows
    found = [
        (session, next(iter(session.signed_values.all()), None))
        for session in rows.select_related("animal", "practice", "read_by").prefetch_related(
            "signed_values__amendments"
        )
    ]
    if asked.of("order") == "high":
        found.sort(key=lambda each: -(_pressure(*each) or 0.0))
    return [(session, signed, _stands(session, signed, row)) for session, signed in found[:MOST_SHOWN]]


def _recheck(row: Animal) -> Recheck | None:
    """When it is to be measured again; nobody waits for one that has died."""
    return None if row.deceased_on else kept_recheck(row)


def _pressure(session: Session, signed: SignedValue | None) -> float | None:
    """The value that stands, or as charted where nobody has signed an ended session, in mmHg; None where there is
    none."""
    if signed is not None:
        return value_of(signed)
    return None if session.is_open else height_of(session).systolic_mmhg


def _stands(session: Session, signed: SignedValue | None, row: Animal) -> str:
    """The same as text, empty where there is none."""
    rules, species = row.practice.rules, row.of_the_engine
    if signed is not None:
        return shown_of(signed, rules, species)
    value = _pressure(session, None)
    return "" if value is None else mmhg(value, rules=rules, species=species)


def _is_hidden(request: HttpRequest, session: Session) -> bool:
    """Whether the result is still kept from who reads by ear; not from the veterinarian, who may end the session."""
    return not may(request.user, "sign", session) and is_kept_back(session)


def _signed(session: Session) -> SignedValue | None:
    rows = session.signed_values.select_related("signed_by", "practice", "session__animal__owner")
    return rows.prefetch_related("amendments__by").first()


def _entries(request: HttpRequest, session: Session) -> QuerySet[Entry]:
    """The journal of this session and all that belongs to it, the latest first."""
    keys: list[uuid.UUID] = [session.pk]
    for series in session.series.prefetch_related("readings", "late_readings"):
        keys += [series.pk, *(row.pk for row in series.readings.all())]
        keys += [row.pk for row in series.late_readings.all()]
    for signed in session.signed_values.prefetch_related("amendments"):
        keys += [signed.pk, *(row.pk for row in signed.amendments.all())]
    keys += session.decisions.values_list("pk", flat=True)
    day = day_of(session)
    keys += session.animal.organ_findings.filter(on__range=(day, day + BELONGS)).values_list("pk", flat=True)
    entries = visible(request.user, Entry).filter(thing_id__in=keys)
    return entries.select_related("who").order_by("-sequence")[:MOST_ENTRIES]


def _drawn_as(request: HttpRequest) -> dict[str, Any]:
    asked = request.GET.get("width", "")
    width = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else 640
    theme: Theme = "dark" if request.GET.get("theme") == "dark" else "light"
    return {"width": min(max(width, NARROWEST), WIDEST), "theme": theme}


def _svg(drawn: str | None) -> HttpResponse:
    if drawn is None:
        raise Http404(_("There is nothing to draw."))
    return HttpResponse(drawn, content_type="image/svg+xml", headers={"Cache-Control": "private, no-cache"})


def _pdf(made: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return HttpResponse(made, content_type="application/pdf", headers=headers)


def _back(request: HttpRequest, session: Session, anchor: str) -> HttpResponse:
    """To the page again, of the same series."""
    asked = request.GET.get("series", "")
    query = f"?series={asked}" if asked.isascii() and asked.isdigit() else ""
    answer = redirect("result", session.pk)
    answer["Location"] += query + anchor
    return answer


def _not_signed(request: HttpRequest) -> HttpResponse:
    return _plain(request, _("This session is not signed yet; there is nothing to print or amend."), 409)


def _has_died(request: HttpRequest) -> HttpResponse:
    return _plain(request, _("This animal has died: there is no page for its owner."), 409)


def _plain(request: HttpRequest, sentence: str, status: int) -> HttpResponse:
    return render(request, "plain.html", {"sentence": sentence}, status=status)
