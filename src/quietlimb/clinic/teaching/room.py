"""The teaching room: under one address stand the clinic's own pages once more, on the store in which people learn.

Who enters is somebody of the same name there, a nurse and a veterinarian at once, for who learns does the whole job.
Nothing that is done in the room is done in the practice's own store.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import Resolver404, get_script_prefix, resolve, set_script_prefix

from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import TEACHING, working_in
from quietlimb.clinic.teaching.learners import learner_of

ROOM = "/teaching/room"
OUT_OF_THE_ROOM = "/teaching"
# Who is at work in this browser is told outside the room, where passwords and roles are; methods are compared outside.
OUTSIDE = (
    "quietlimb.clinic.people.",
    "quietlimb.clinic.trusting",
    "quietlimb.clinic.teaching.views",
    "quietlimb.clinic.comparisons.",
    "quietlimb.clinic.conversions.",
)


def is_room(request: HttpRequest) -> bool:
    """Whether this is a page of the teaching room."""
    return getattr(request, "_in_the_room", False)


class RoomMiddleware:
    """Answers what is asked under the room's address with the clinic's page of that name, on the learners' store."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info == ROOM:
            return HttpResponseRedirect(f"{get_script_prefix().rstrip('/')}{ROOM}/")
        if not request.path_info.startswith(f"{ROOM}/"):
            return self.get_response(request)
        request.path_info = request.path_info.removeprefix(ROOM)
        if _is_outside(request.path_info) and request.method in ("GET", "HEAD"):
            return HttpResponseRedirect(f"{get_script_prefix().rstrip('/')}{request.path_info}{_query(request)}")
        before = get_script_prefix()
        set_script_prefix(f"{before.rstrip('/')}{ROOM}/")
        try:
            if not isinstance(request.user, Person) or _is_outside(request.path_info):
                return self.get_response(request)
            with working_in(TEACHING):
                request.user = learner_of(request.user)
                request._in_the_room = True  # type: ignore[attr-defined]
                return self.get_response(request)
        finally:
            set_script_prefix(before)


def _is_outside(path: str) -> bool:
    try:
        view = resolve(path).func
    except Resolver404:
        return False
    return view.__module__.startswith(OUTSIDE)


def _query(request: HttpRequest) -> str:
    told = request.META.get("QUERY_STRING", "")
    return f"?{told}" if told else ""
