"""Dropping recordings at the table; one recording with its picture, what was found, and what each engine made of it."""

from __future__ import annotations

import logging
import uuid

from django.core.files.uploadedfile import UploadedFile
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quietlimb.clinic.downloads import download
from quietlimb.clinic.recordings import services
from quietlimb.clinic.recordings.files import bare, packed
from quietlimb.clinic.recordings.results import picture_of, results_told
from quietlimb.clinic.rights import fetch, may, needs, person_of
from quietlimb.clinic.sessions.entry import EntryError, key, moment
from quietlimb.clinic.sessions.models import Reading, Recording, Series
from quietlimb.clinic.sessions.views import saved
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.version import ENGINE_VERSION

logger = logging.getLogger(__name__)
FOR_GOOD = ("key-taken", "signed", "kept-elsewhere", "invented")


@needs("measure")
@require_POST
def recording_add(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """One recording as its files: 201 with the part of the page when saved, 200 when it was, 422 with why not."""
    person, now = person_of(request), timezone.now()
    series = fetch(person, "measure", Series, pk=series_id)
    files = [each for each in request.FILES.getlist("file") if isinstance(each, UploadedFile)]
    try:
        name, content = packed({bare(each.name or ""): each.read() for each in files})
        dropped = services.Dropped(
            client_id=key(request.POST),
            name=name,
            content=content,
            taken_at=moment(request.POST, series.session.started_at, now),
        )
        reading, new = services.recording_add(person, series=series, dropped=dropped, at=now)
    except QuietlimbError as error:
        status = 409 if error.code in FOR_GOOD else 422
        return JsonResponse({"code": error.code, "says": error.says, "remedy": error.remedy}, status=status)
    except OperationalError:
        logger.exception("a recording could not be saved")
        return JsonResponse({"code": "not-written"}, status=503)
    return saved(request, reading, meant=series, new=new)


@needs("look")
@require_safe
def recording(request: HttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    """The picture of a recording and its results, by every engine that read it."""
    reading = fetch(person_of(request), "look", Reading, pk=reading_id, recording__isnull=False)
    kept = reading.recording
    assert kept is not None
    context = {
        "reading": reading,
        "recording": kept,
        "session": reading.series.session,
        "results": results_told(kept),
        "may_read_again": may(request.user, "measure", kept) and ENGINE_VERSION not in kept.results,
    }
    return render(request, "recordings/recording.html", context)


@needs("look")
@require_safe
def recording_picture(request: HttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    """The picture by itself, drawn from the bytes by this engine."""
    reading = fetch(person_of(request), "look", Reading, pk=reading_id, recording__isnull=False)
    dark = request.GET.get("theme") == "dark"
    try:
        drawn = picture_of(reading, dark=dark)
    except QuietlimbError as error:
        return HttpResponse(f"{error.says}; {error.remedy}", status=422, content_type="text/plain; charset=utf-8")
    return HttpResponse(drawn, content_type="image/svg+xml")


@needs("look")
@require_safe
def recording_file(request: HttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    """The bytes as they came."""
    reading = fetch(person_of(request), "look", Reading, pk=reading_id, recording__isnull=False)
    kept = reading.recording
    assert kept is not None
    return download(bytes(kept.content), kept.name)


@needs("measure")
@require_POST
def recording_again(request: HttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    """Read it with this engine; what earlier ones made of it stays beside."""
    person = person_of(request)
    reading = fetch(person, "measure", Reading, pk=reading_id, recording__isnull=False)
    kept = fetch(person, "measure", Recording, pk=reading.recording_id)
    try:
        services.read_again(person, recording=kept)
    except EntryError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    except QuietlimbError as error:
        sentence = _("The recording cannot be read: {says}; {remedy}.").format(says=error.says, remedy=error.remedy)
        return render(request, "plain.html", {"sentence": sentence}, status=422)
    return redirect("recording", reading.pk)
