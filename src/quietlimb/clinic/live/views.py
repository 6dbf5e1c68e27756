"""Starting and stopping a capture, following it, comparing it with the manometer, reading what a cut one kept."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import AsyncIterator

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from quietlimb.clinic.live import services
from quietlimb.clinic.live.board import Board
from quietlimb.clinic.live.running import CAPTURES
from quietlimb.clinic.live.selectors import air_in_the_cuff, listened_to_elsewhere
from quietlimb.clinic.live.sources import source_for
from quietlimb.clinic.people.expiry import asked_by_the_page
from quietlimb.clinic.rights import fetch, needs, person_of
from quietlimb.clinic.sessions.entry import EntryError
from quietlimb.clinic.sessions.models import Series
from quietlimb.engine.errors import QuietlimbError

ASK_EVERY_S = 0.05  # of the board: far below what an eye sees
BEAT_S = 5.0  # a line that says nothing, so that both ends notice when the other has gone


@needs("measure")
@require_POST
def live_start(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """Listen to a source: 201, 409 where somebody already does, 422 where there is no such source."""
    person = person_of(request)
    series = fetch(person, "measure", Series, pk=series_id)
    address = request.POST.get("address", "").strip()
    asked = f"bluetooth:{address}" if address else request.POST.get("source", "")
    try:
        source = source_for(series, asked)
        into = services.capture_start(person, series=series, source=source)
    except EntryError as error:
        return _refused(error, 409 if error.code in ("listening", "listening-here", "ended") else 422)
    except QuietlimbError as error:
        return _refused(error, 422)
    return JsonResponse({"series": into.ordinal}, status=201)


@needs("measure")
@require_POST
def live_stop(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """Stop listening; what has come is kept and read. After the end, with `air=out`: somebody saw the cuff empty."""
    series = fetch(person_of(request), "measure", Series, pk=series_id)
    running = CAPTURES.of(series.pk)
    if request.POST.get("air") == "out":
        services.air_is_out(series)
    elif running is not None:
        running.stop()
    return JsonResponse({})


@needs("look")
@asked_by_the_page
@require_safe
def live_here(request: HttpRequest, series_id: uuid.UUID) -> JsonResponse:
    """Whether somebody listens in this session, for a page that was opened before: small, and asked every few seconds.

    capture : the newest of the series, running or ended, so that a page sees that it missed one
    air     : what to do, where it ended, or one was cut off, with a full cuff
    elsewhere : the number of another series of the session that is listened to
    """
    series = fetch(person_of(request), "look", Series, pk=series_id)
    running = CAPTURES.of(series.pk)
    told: dict[str, object] = {"capture": "", "running": False}
    if running is not None:
        told = {"capture": running.name, "running": running.is_alive}
    return JsonResponse({**told, "air": air_in_the_cuff(series), "elsewhere": listened_to_elsewhere(series)})


@needs("look")
@asked_by_the_page
@require_safe
def live_stream(request: HttpRequest, series_id: uuid.UUID) -> StreamingHttpResponse:
    """The news of a capture as they come, for any number of screens; the present inflation from its beginning."""
    series = fetch(person_of(request), "look", Series, pk=series_id)
    running = CAPTURES.of(series.pk)
    if running is None:
        raise Http404(_("Nobody listens to a cuff here."))
    answer = StreamingHttpResponse(news(running.board), content_type="text/event-stream")
    answer.headers["X-Accel-Buffering"] = "no"  # a proxy in front must pass each line on at once
    return answer


async def news(board: Board, *, ask_every_s: float = ASK_EVERY_S, beat_s: float = BEAT_S) -> AsyncIterator[bytes]:
    """The lines of the stream until the capture has ended and everything was sent."""
    place, silent_s = 0, 0.0
    while True:
        ended = board.ended  # looked at before the news, so that the last are sent
        told, place = board.after(place)
        if told:
            yield "".join(f"data: {each}\n\n" for each in told).encode()
            silent_s = 0.0
        if ended:
            return
        await asyncio.sleep(ask_every_s)
        silent_s += ask_every_s
        if silent_s >= beat_s:
            yield b": still here\n\n"
            silent_s = 0.0


@needs("measure")
@require_POST
def live_look(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """The manometer's number beside the pressure now: says whether the two agree, and keeps it in the journal."""
    person = person_of(request)
    series = fetch(person, "measure", Series, pk=series_id)
    try:
        compared = services.manometer_compared(person, series=series, typed=request.POST.get("manometer", ""))
    except EntryError as error:
        return _refused(error, 422)
    return JsonResponse({"says": compared})


@needs("measure")
@require_POST
def live_recover(request: HttpRequest, series_id: uuid.UUID) -> HttpResponse:
    """Read what a capture had kept when it was cut off, and put what is whole into the series."""
    person = person_of(request)
    series = fetch(person, "measure", Series, pk=series_id)
    try:
        says = services.left_recovered(person, series=series, name=request.POST.get("name", ""))
    except QuietlimbError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    if says:
        return render(request, "plain.html", {"sentence": says}, status=200)
    return redirect("table", series.session_id)


def _refused(error: QuietlimbError, status: int) -> JsonResponse:
    return JsonResponse({"code": error.code, "says": f"{error.says}; {error.remedy}."}, status=status)
