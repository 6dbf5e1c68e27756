"""Inside the teaching room: what the learner does at the cuff, and the debrief."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from quietlimb.clinic.rights import fetch, needs, person_of
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Series, Session
from quietlimb.clinic.teaching import services
from quietlimb.clinic.teaching.forms import InflateForm, OwnerForm
from quietlimb.clinic.teaching.models import TrainingRun
from quietlimb.clinic.teaching.panel import at_the_end
from quietlimb.clinic.teaching.room import OUT_OF_THE_ROOM, is_room

View = Callable[..., HttpResponseBase]


def in_the_room(view: View) -> View:
    """A view that is nowhere but in the teaching room."""

    @wraps(view)
    def guarded(request: HttpRequest, *arguments: Any, **named: Any) -> HttpResponseBase:
        if not is_room(request):
            raise Http404(_("There is no such page here."))
        return view(request, *arguments, **named)

    return guarded


@needs("measure")
@in_the_room
@require_POST
def inflate(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """Inflate once: 201 with the trace to follow, 422 with what is missing."""
    person = person_of(request)
    series = fetch(person, "measure", Series, pk=series_id)
    run, form = _run(series.session), InflateForm(request.POST)
    if not form.is_valid():
        told = form.errors.get_json_data()
        says = " ".join(f"{form[name].label}: {each['message']}" for name, faults in told.items() for each in faults)
        return JsonResponse({"code": "impossible-choice", "says": says}, status=422)
    try:
        services.inflate(person, run, series=series, told=form.cleaned_data)
    except EntryError as error:
        return JsonResponse({"code": error.code, "says": f"{error.says}; {error.remedy}."}, status=422)
    return JsonResponse({}, status=201)


@needs("measure")
@in_the_room
@require_POST
def wait(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """Let time pass, or look display, cuff and tube over."""
    session = fetch(person_of(request), "measure", Session, pk=session_id)
    run, asked = _run(session), request.POST.get("minutes", "")
    try:
        if asked == "check":
            services.check_setup(run)
        else:
            services.wait(run, int(asked) if asked.isdigit() and len(asked) < 4 else 0)
    except EntryError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=422)
    return redirect("table", session.pk)


@needs("measure")
@in_the_room
@require_http_methods(["GET", "POST"])
def debrief(request: HttpRequest, session_id: uuid.UUID) -> HttpResponse:
    """The truth beside what was charted, and what each choice cost; asked for once, for good."""
    session = fetch(person_of(request), "measure", Session, pk=session_id)
    run = _run(session)
    if request.method == "POST":
        form = OwnerForm(request.POST)
        try:
            run = services.run_finish(run, session, to_owner=form.cleaned_data["saying"] if form.is_valid() else None)
        except EntryError as error:
            says = f"{error.says}; {error.remedy}."
            if error.code == "owner-not-told":  # the choice stands on the debrief's own page
                return _debrief(request, session, run, refused=says, status=409)
            return render(request, "plain.html", {"sentence": says}, status=409)
        return redirect("training-debrief", session.pk)
    return _debrief(request, session, run)


def _debrief(
    request: HttpRequest, session: Session, run: TrainingRun, *, refused: str = "", status: int = 200
) -> HttpResponse:
    claimed = bool(run.told) and services.is_claimed(run)
    context = {"session": session, "run": run, "told": run.told, "claimed": claimed, "way_out": OUT_OF_THE_ROOM}
    context |= {"truth": at_the_end(session), "refused": refused}
    return render(request, "teaching/debrief.html", context, status=status)


def _run(session: Session) -> TrainingRun:
    run = services.run_of(session)
    if run is None:
        raise Http404(_("This animal belongs to no case."))
    return run
