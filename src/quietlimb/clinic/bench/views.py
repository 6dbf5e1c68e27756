"""Checks at the bench, one check with the sessions that it holds in doubt, how often the practice checks.

Everybody looks, nurse and practice lead check, the veterinarian decides on sessions.
"""

from __future__ import annotations

import uuid
from typing import Any, Final

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.bench.doubts import failure_of, in_doubt, judged_by
from quietlimb.clinic.bench.forms import FORMS, CheckForm, DecisionForm, ScheduleForm, Setting
from quietlimb.clinic.bench.judging import limit_words, picture_of, told_of_check, typed_points
from quietlimb.clinic.bench.services import BenchError, check_add, decision_add, schedule_set
from quietlimb.clinic.bench.standing import State, Thing, offered, schedule_of, warnings_of
from quietlimb.clinic.downloads import download
from quietlimb.clinic.equipment.models import Check, CheckKind, CheckSchedule, Cuff, Decided, Gauge, Instrument
from quietlimb.clinic.people.models import Person, PressureUnit
from quietlimb.clinic.rights import fetch, may, needs, person_of, visible
from quietlimb.clinic.sessions.models import Session
from quietlimb.figures.look import Theme

NARROWEST, WIDEST = 340, 1200  # px of a picture
UNSURE: Final[tuple[State, ...]] = ("overdue", "not checked")  # a reference manometer that is trusted on no certificate


@needs("check")
@require_http_methods(["GET", "POST"])
def instrument_check(request: HttpRequest, instrument_id: uuid.UUID) -> HttpResponse:
    """A check of an instrument at the bench; `kind` names it."""
    return _bench(request, fetch(person_of(request), "check", Instrument, pk=instrument_id), None)


@needs("check")
@require_http_methods(["GET", "POST"])
def cuff_check(request: HttpRequest, cuff_id: uuid.UUID) -> HttpResponse:
    """A check of a cuff at the bench."""
    return _bench(request, fetch(person_of(request), "check", Cuff, pk=cuff_id), None)


@needs("check")
@require_http_methods(["GET", "POST"])
def check_correct(request: HttpRequest, check_id: uuid.UUID) -> HttpResponse:
    """A new check in place of one that was entered wrongly; both stay, with the reason."""
    row = fetch(person_of(request), "check", Check, pk=check_id)
    return _bench(request, row.thing, row)


@needs("look")
@require_safe
def check(request: HttpRequest, check_id: uuid.UUID) -> HttpResponse:
    """One check: verdict and figures, and the sessions that it holds in doubt."""
    return _check(request, fetch(person_of(request), "look", Check, pk=check_id))


@needs("decide")
@require_POST
def decide(request: HttpRequest, check_id: uuid.UUID) -> HttpResponse:
    """What becomes of one session."""
    person = person_of(request)
    row = fetch(person, "decide", Check, pk=check_id)
    session = fetch(person, "decide", Session, pk=_key(request.POST.get("session", "")))
    form = DecisionForm(request.POST, auto_id=f"{session.pk}-%s")
    if not form.is_valid():
        return _check(request, row, refused={session.pk: form})
    try:
        decision_add(
            person,
            check=row,
            session=session,
            what=Decided(form.cleaned_data["what"]),
            why=form.cleaned_data["why"],
            at=timezone.now(),
        )
    except BenchError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    answer = redirect("check", row.pk)
    answer["Location"] += "#doubt"
    return answer


@needs("look")
@require_safe
def check_picture(request: HttpRequest, check_id: uuid.UUID) -> HttpResponse:
    """The errors of a static check against the pressure."""
    row = fetch(person_of(request), "look", Check, pk=check_id)
    asked = request.GET.get("width", "")
    width = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else 640
    theme: Theme = "dark" if request.GET.get("theme") == "dark" else "light"
    drawn = picture_of(row, width=min(max(width, NARROWEST), WIDEST), theme=theme)
    if drawn is None:
        raise Http404(_("There is nothing to draw."))
    return HttpResponse(drawn, content_type="image/svg+xml", headers={"Cache-Control": "private, no-cache"})


@needs("look")
@require_safe
def check_recording(request: HttpRequest, check_id: uuid.UUID) -> HttpResponse:
    """The bytes that a check was made from, as they came."""
    kept = fetch(person_of(request), "look", Check, pk=check_id).recording
    if kept is None:
        raise Http404(_("There is no such page here."))
    return download(bytes(kept.content), kept.name)


@needs("lead")
@require_http_methods(["GET", "POST"])
def schedule(request: HttpRequest) -> HttpResponse:
    """How often the practice checks."""
    person = person_of(request)
    row = visible(person, CheckSchedule).first() or CheckSchedule()
    usual = schedule_of(person.practice)
    form = ScheduleForm(request.POST or None, instance=row, usual=usual)
    if form.is_valid():
        schedule_set(person, schedule=form.save(commit=False))
        return redirect("instruments")
    context = {"form": form, "usual": usual}
    return render(request, "bench/schedule.html", context, status=200 if request.method == "GET" else 422)


def _bench(request: HttpRequest, thing: Thing, corrects: Check | None) -> HttpResponse:
    person = person_of(request)
    kinds = offered(thing)
    asked = str(corrects.kind) if corrects is not None else request.GET.get("kind", "")
    kind = CheckKind(asked) if corrects is not None or asked in kinds else kinds[0]
    setting = _setting(request, person, thing, corrects)
    form = FORMS[kind](request.POST or None, request.FILES or None, setting=setting)
    if form.is_valid():
        try:
            made = check_add(person, check=form.check(), recording=form.recording, at=timezone.now())
        except BenchError as error:
            form.add_error(None, f"{error.says}; {error.remedy}.")
        else:
            return redirect("check", made.pk)
    return _entry(request, form, kind, setting)


def _entry(request: HttpRequest, form: CheckForm, kind: CheckKind, setting: Setting) -> HttpResponse:
    context = {
        "form": form,
        "kind": kind,
        "thing": setting.thing,
        "is_cuff": isinstance(setting.thing, Cuff),
        "corrects": setting.corrects,
        "unit": setting.unit,
        "other_unit": "mmHg" if setting.unit == "kPa" else "kPa",
        "has_pressures": bool(form.rows()),
        "has_limit": form.has_limit,
        "no_reference": form.has_reference and not setting.references,
        "template": f"bench/how_{kind.value}.html",
    }
    return render(request, "bench/entry.html", context, status=200 if request.method == "GET" else 422)


def _setting(request: HttpRequest, person: Person, thing: Thing, corrects: Check | None) -> Setting:
    asked = request.GET.get("unit", "")
    unit = asked if asked in PressureUnit.values else str(person.pressure_unit)
    references = visible(person, Instrument).filter(gauge=Gauge.REFERENCE, out_of_service=False).exclude(pk=thing.pk)
    return Setting(
        thing=thing,
        unit=unit,
        references=references,
        unsure=warnings_of(person.practice, references, timezone.localdate(), UNSURE),
        corrects=corrects,
        now=timezone.now(),
        invented=person.practice.invented,
    )


def _check(request: HttpRequest, row: Check, *, refused: dict[uuid.UUID, DecisionForm] | None = None) -> HttpResponse:
    refused = refused or {}
    failure = None if row.good else failure_of(row)
    doubt = None if failure is None else in_doubt(row.thing, failure)
    may_decide = may(request.user, "decide", row)
    sessions: list[tuple[Any, DecisionForm | None]] = []
    for each in () if doubt is None else doubt.sessions:
        fresh = DecisionForm(auto_id=f"{each.session.pk}-%s") if may_decide else None
        sessions.append((each, refused.get(each.session.pk, fresh)))
    unsure = {}
    if row.reference is not None:
        unsure = warnings_of(row.practice, [row.reference], timezone.localdate(row.done_at), UNSURE)
    context = {
        "check": row,
        "unsure": unsure.get(row.reference_id),
        "judged_by": [] if failure is None else judged_by(failure),
        "thing": row.thing,
        "is_cuff": row.cuff_id is not None,
        "told": told_of_check(row),
        "limit": limit_words(row.kind, row.limit),
        "points": typed_points(row, person_of(request).pressure_unit),
        "corrected_by": visible(request.user, Check).filter(corrects=row).first(),
        "failure": failure,
        "doubt": doubt,
        "sessions": sessions,
        "may_check": may(request.user, "check", row),
        "may_decide": may_decide,
    }
    return render(request, "bench/check.html", context, status=422 if refused else 200)


def _key(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        raise Http404(_("There is no such page here.")) from None
