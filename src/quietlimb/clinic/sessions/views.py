"""Starting a session, the table, closing."""

from __future__ import annotations

import json
import logging
import uuid
from collections.abc import Sequence

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.animals.forms import NewAnimalForm
from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.animals.services import animal_add
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.live.panel import panel_of
from quietlimb.clinic.live.selectors import full_cuff_of
from quietlimb.clinic.people.expiry import asked_by_the_page
from quietlimb.clinic.people.models import PressureUnit
from quietlimb.clinic.recordings.limits import MOST_BYTES
from quietlimb.clinic.rights import fetch, may, needs, person_of
from quietlimb.clinic.sessions import services
from quietlimb.clinic.sessions.calling import call_take_back, veterinarian_call
from quietlimb.clinic.sessions.ending import end_question, full_cuff_question
from quietlimb.clinic.sessions.entry import EntryError, entered
from quietlimb.clinic.sessions.forms import (
    CircumstancesForm,
    ClosingForm,
    SeriesForm,
    SessionForm,
    recalled,
    recalled_line,
)
from quietlimb.clinic.sessions.models import Ending, LateReading, Reading, Series, Session, Spoiled
from quietlimb.clinic.sessions.resting import seconds_for_the_page
from quietlimb.clinic.sessions.selectors import last_series_of, so_far_of
from quietlimb.clinic.sessions.settling import DOS, settling_of
from quietlimb.clinic.sessions.table import sentence_of, table_of
from quietlimb.clinic.teaching.panel import at_the_cuff
from quietlimb.clinic.teaching.room import is_room
from quietlimb.clinic.teaching.services import cuff_left_full, places_of

logger = logging.getLogger(__name__)


@needs("measure")
@require_http_methods(["GET", "POST"])
def start(request: HttpRequest) -> HttpResponse:
    """Which animal: found by a few letters, or new in one row."""
    person = person_of(request)
    form = NewAnimalForm(request.POST or None, person=person)
    if form.is_valid():
        animal = animal_add(person, animal=form.save(commit=False), owner_name=form.cleaned_data["owner_name"])
        return redirect("start-with", animal.pk)
    status = 200 if request.method == "GET" else 422
    return render(request, "sessions/start.html", {"form": form}, status=status)


@needs("measure")
@require_http_methods(["GET", "POST"])
def start_with(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """The circumstances, recalled from last time and corrected by exception."""
    person, now = person_of(request), timezone.now()
    animal = fetch(person, "measure", Animal, pk=animal_id)
    if animal.merged_into_id:
        return redirect("start-with", animal.merged_into_id)
    if animal.deceased_on:
        day = date_format(animal.deceased_on, "j F Y")
        words = _("{name} died on {day}. If that was a mistake, put it right under Edit on the animal's page.")
        return render(request, "plain.html", {"sentence": words.format(name=animal.name, day=day)}, status=409)
    last = last_series_of(animal)
    of_session, of_series = recalled(last)
    began = Session(animal=animal)
    places = places_of(began) if is_room(request) else None
    form = SessionForm(request.POST or None, initial=of_session, person=person, now=now, places=places, instance=began)
    series_form = SeriesForm(request.POST or None, initial=of_series, person=person, animal=animal)
    if request.method == "POST" and form.is_valid() and series_form.is_valid():
        session = services.session_start(
            person, session=form.save(commit=False), series=series_form.save(commit=False), at=now
        )
        return redirect("table", session.pk)
    context = {
        "animal": animal,
        "form": form,
        "series_form": series_form,
        "recalled": recalled_line(last) if last else "",
        "minded": series_form.minded(last),
        "remarked": last.session.remarks if last else "",
        "remarked_on": last.session.started_at if last else None,
    }
    return render(request, "sessions/start_with.html", context, status=200 if request.method == "GET" else 422)


@needs("measure")
@asked_by_the_page
@require_safe
def cuffs(request: HttpRequest, animal_id: uuid.UUID) -> HttpResponse:
    """The choice of cuffs for the circumference that is being typed, those that fit first."""
    person = person_of(request)
    animal = fetch(person, "measure", Animal, pk=animal_id)
    told = {name: request.GET.get(name, "")[:40] for name in ("limb_circumference_cm", "cuff")}
    return HttpResponse(str(SeriesForm(initial=told, person=person, animal=animal)["cuff"]))


@needs("look")
@require_safe
def table(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The page of the job: slots, picture, one sentence. Shows the latest series, or the one asked for."""
    person = person_of(request)
    session = fetch(person, "look", Session, pk=session_id)
    series = _asked_series(request, session)
    all_series = list(session.series.order_by("ordinal"))
    shown = table_of(series)
    may_measure = may(person, "measure", session)
    # What has ended is looked at; readings are added to it, or struck through, on request until it is signed.
    enters = may_measure and not shown.standing.signed and (session.is_open or "more" in request.GET)
    training = at_the_cuff(session) if is_room(request) else None
    context = {
        "session": session,
        "all_series": all_series,
        "series": series,
        "slots": slots_of(series),
        "line_example": line_example(slots_of(series), person.pressure_unit),
        "table": shown,
        "enters": enters,
        "circumstances": recalled_line(series),
        "may_strike": enters,
        "reasons": Spoiled.choices,
        "most_bytes": MOST_BYTES,
        "seconds": seconds_for_the_page(),
        "may_measure": may_measure,
        "settling": settling_of(session, session.ended_at or timezone.now()),
        "closing": ClosingForm(instance=session),
        "another": SeriesForm(initial=recalled(series)[1], person=person, animal=session.animal),
        "training": training,
        "live": panel_of(series) if training or series.technique == Technique.OSCILLOMETRIC else None,
    }
    return render(request, "sessions/table.html", context)


@needs("look")
@asked_by_the_page
@require_safe
def series_part(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """The part of the table page that changes, for a second screen that looks on."""
    return part_of(request, fetch(person_of(request), "look", Series, pk=series_id))


@needs("look")
@asked_by_the_page
@require_safe
def series_sentence(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """The one sentence, for the part of the page that came without it."""
    series = fetch(person_of(request), "look", Series, pk=series_id)
    return render(request, "sessions/sentence.html", {"sentence": sentence_of(series), "series": series})


@needs("measure")
@require_POST
def reading_add(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """One reading as JSON: 201 with the part of the page when saved, 200 when it was already, 422 with why not.

    409 where it will never be taken, 503 where the database cannot write just now: the tablet keeps it.
    """
    person, now = person_of(request), timezone.now()
    series = fetch(person, "measure", Series, pk=series_id)
    try:
        what = entered(
            _json(request),
            technique=series.technique,
            started_at=series.session.started_at,
            now=now,
            so_far=so_far_of(series),
        )
        reading, new = services.reading_add(person, series=series, entered=what, at=now)
    except EntryError as error:
        told = {"code": error.code, "says": error.says, "remedy": error.remedy}
        status = 409 if error.code in ("key-taken", "signed") else 422
        return JsonResponse({**told, "field": error.field, "asks": error.asks}, status=status)
    except OperationalError:
        # A full disk, a lock that was not given back: whatever it is, nothing of the reading has been written.
        logger.exception("a reading could not be saved")
        return JsonResponse({"code": "not-written"}, status=503)
    return saved(request, reading, meant=series, new=new)


@needs("measure")
@require_POST
def reading_strike(request: HttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    """Strike a reading through; it stays, crossed out."""
    person = person_of(request)
    reading = fetch(person, "measure", Reading, pk=reading_id)
    why = request.POST.get("why", "").replace("\0", "")[:200]  # which no text of PostgreSQL can hold
    try:
        services.reading_strike(person, reading_id=reading.pk, why=why, at=timezone.now())
    except EntryError as error:
        if not getattr(request, "htmx", False):
            return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
        return part_of(request, reading.series, status=409, refused=f"{error.says}; {error.remedy}.")
    return _part_or_page(request, reading.series)


@needs("measure")
@require_POST
def another_series(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """A new series of the same session: another cuff, site, side, position or instrument."""
    person = person_of(request)
    session = fetch(person, "measure", Session, pk=session_id)
    form = SeriesForm(request.POST, person=person, animal=session.animal)
    if form.is_valid():
        try:
            services.series_open(person, session=session, series=form.save(commit=False))
        except EntryError as error:
            return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
        return redirect("table", session.pk)
    return render(request, "sessions/another.html", {"session": session, "form": form}, status=422)


@needs("measure")
@require_http_methods(["GET", "POST"])
def circumstances(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """What was told of a session and a series at the start, to be filled in or put right until it is signed."""
    person = person_of(request)
    session = fetch(person, "measure", Session, pk=session_id)
    series = _asked_series(request, session)
    sent = request.POST or None
    places = places_of(session) if is_room(request) else None
    form = CircumstancesForm(sent, person=person, now=timezone.now(), places=places, instance=session)
    told_by_instrument = {"technique": ""} if series.instrument_id else {}
    series_form = SeriesForm(sent, person=person, animal=session.animal, instance=series, initial=told_by_instrument)
    refused = ""
    if request.method == "POST" and form.is_valid() and series_form.is_valid():
        names = {"of_session": list(form.fields), "of_series": list(series_form.fields)}
        try:
            services.circumstances_correct(
                person, session=form.save(commit=False), series=series_form.save(commit=False), **names
            )
        except EntryError as error:
            refused = f"{error.says}; {error.remedy}."
        else:
            return redirect(f"{reverse('table', args=[session.pk])}?series={series.ordinal}")
    context = {"session": session, "series": series, "form": form, "series_form": series_form, "refused": refused}
    status = 200 if request.method == "GET" else (409 if refused else 422)
    return render(request, "sessions/circumstances.html", context, status=status)


@needs("measure")
@require_POST
def session_end(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Close, or one of the other honourable ends."""
    person = person_of(request)
    session = fetch(person, "measure", Session, pk=session_id)
    form = ClosingForm(request.POST, instance=session)
    if form.is_valid():
        ending = Ending(form.cleaned_data["ending"])
        full_mmhg = full_cuff_of(session)
        asked = [each for each in (full_cuff_question(full_mmhg), end_question(session, ending)) if each is not None]
        may_be = all(each.asks for each in asked)
        if asked and not (may_be and request.POST.get("sure") == ending):
            says = " ".join(f"{each.says}; {each.remedy}." for each in asked)
            told = {"session": session, "closing": form, "asked": says}
            sure = ending if may_be else ""
            return render(request, "sessions/end_asked.html", {**told, "sure": sure}, status=422)
        if full_mmhg is not None and is_room(request):
            cuff_left_full(session, full_mmhg)
        services.session_end(person, session=form.save(commit=False), ending=ending, at=timezone.now())
        return redirect("today")
    return render(request, "plain.html", {"sentence": _("Say how the session ended.")}, status=422)


@needs("measure")
@require_POST
def session_settle(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Since when the animal is in here: five minutes more or less, or begun again after a disturbance."""
    person, now = person_of(request), timezone.now()
    session = fetch(person, "measure", Session, pk=session_id)
    do = next((each for each in DOS if each == request.POST.get("do")), None)
    if do is None:
        return render(request, "plain.html", {"sentence": _("Say what to change.")}, status=422)
    try:
        session = services.session_settle(person, session=session, do=do, at=now)
    except EntryError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    return _small_part(request, session, "sessions/settling.html")


@needs("measure")
@require_POST
def session_call(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Fetch the veterinarian now: the session stands first on Today; or take that back."""
    person = person_of(request)
    session = fetch(person, "measure", Session, pk=session_id)
    try:
        if request.POST.get("do") == "take-back":
            session = call_take_back(person, session=session)
        else:
            session = veterinarian_call(person, session=session, at=timezone.now())
    except EntryError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    return _small_part(request, session, "sessions/call.html")


def _asked_series(request: HttpRequest, session: Session) -> Series:
    """The series of a session that the address asks for; else the latest."""
    every = list(session.series.select_related("instrument", "cuff").order_by("ordinal"))
    asked = request.GET.get("series", "")
    series = next((each for each in every if str(each.ordinal) == asked), every[-1])
    series.session = session
    return series


def _small_part(request: HttpRequest, session: Session, template: str) -> HttpResponse:
    """A swap gets the part, a plain post the page."""
    if not getattr(request, "htmx", False):
        return redirect("table", session.pk)
    context = {"session": session, "settling": settling_of(session, timezone.now()), "may_measure": True}
    return render(request, template, context)


def slots_of(series: Series) -> list[str]:
    """The slots to type into, in the order in which the instrument shows its numbers."""
    if series.technique == "doppler":
        return ["systolic"]
    return list(series.instrument.slots) if series.instrument else ["systolic", "diastolic", "mean", "pulse_rate"]


EXAMPLE = {
    PressureUnit.MMHG: {"systolic": "162", "mean": "128", "diastolic": "104"},
    PressureUnit.KPA: {"systolic": "21.6", "mean": "17.1", "diastolic": "13.9"},
}


def line_example(slots: Sequence[str], unit: str) -> str:
    """A reading as one line, for who has not typed one yet: 09:12 162/128/104 180."""
    numbers = [EXAMPLE[PressureUnit(unit)].get(slot, "180") for slot in slots]
    rate = [numbers.pop()] if slots[-1] == "pulse_rate" else []
    return " ".join(["09:12", "/".join(numbers), *rate])


def saved(request: HttpRequest, reading: Reading | LateReading, *, meant: Series, new: bool) -> HttpResponse:
    """The answer to a reading that is saved: its key, and the page to show where it went into another series."""
    answer = part_of(request, reading.series, status=201 if new else 200)
    answer.headers["Quietlimb-Saved"] = str(reading.client_id)
    if reading.series_id != meant.pk:
        address = reverse("table", args=[meant.session_id])
        answer.headers["Quietlimb-Series"] = f"{address}?series={reading.series.ordinal}"
    return answer


def part_of(request: HttpRequest, series: Series, *, status: int = 200, refused: str = "") -> HttpResponse:
    """The part of the table page that changes; with what was refused, where something was."""
    table = table_of(series)
    may_strike = may(request.user, "measure", series) and not table.standing.signed
    context = {"table": table, "may_strike": may_strike, "refused": refused}
    return render(request, "sessions/series_part.html", context, status=status)


def _part_or_page(request: HttpRequest, series: Series) -> HttpResponse:
    """A swap gets the part, a plain post the page."""
    return part_of(request, series) if getattr(request, "htmx", False) else redirect("table", series.session_id)


def _json(request: HttpRequest) -> object:
    try:
        return json.loads(request.body)
    except (ValueError, RecursionError):
        return None
