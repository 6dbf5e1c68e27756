"""What stands around every page: practice, search, the parts of the clinic that this person may see."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import Action, may
from quietlimb.clinic.teaching.room import OUT_OF_THE_ROOM, is_room
from quietlimb.engine.version import ENGINE_VERSION


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the clinic in the navigation: its name, the name of its address, and who finds it there.

    unless : who may do this finds it on another page
    """

    name: Any
    address: str
    action: Action
    unless: Action | None = None


# In the order of the day. A new part of the clinic adds its line here.
PARTS = (
    Part(name=gettext_lazy("Today"), address="today", action="look"),
    Part(name=gettext_lazy("Animals"), address="animals", action="look"),
    Part(name=gettext_lazy("Instruments"), address="instruments", action="look"),
    Part(name=gettext_lazy("Comparisons"), address="comparisons", action="look"),
    Part(name=gettext_lazy("Teaching"), address="teaching", action="look"),
    Part(name=gettext_lazy("Practice"), address="practice", action="lead"),
    Part(name=gettext_lazy("Export"), address="export", action="export", unless="lead"),
    Part(name=gettext_lazy("Comparisons"), address="comparisons", action="compared", unless="look"),
)


def frame(request: HttpRequest) -> dict[str, Any]:
    """For every template: the practice, the parts that this person may see, the part that she is in."""
    person = getattr(request, "user", None)
    if not isinstance(person, Person):
        return {"practice": None, "parts": (), "engine": ENGINE_VERSION}
    parts = [
        {"name": part.name, "href": reverse(part.address), "here": _inside(request.path, reverse(part.address))}
        for part in PARTS
        if may(person, part.action) and not (part.unless and may(person, part.unless))
    ]
    learning = {"learning": is_room(request), "way_out": OUT_OF_THE_ROOM if is_room(request) else ""}
    found = {**learning, "practice": person.practice, "parts": parts, "person": person, "engine": ENGINE_VERSION}
    home = parts[0]["href"] if parts else reverse("own-page")
    return {**found, "home": home, "may_search": may(person, "look"), "sought": request.GET.get("q", "")}


def _inside(path: str, part: str) -> bool:
    return path == part or (part != "/" and path.startswith(part.rstrip("/") + "/"))


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """The page for who may not do this."""
    return _plain(request, 403, _("This is not yours to do. Ask the practice lead if it should be."))


def not_here(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """The page for an address that leads nowhere, or to another practice."""
    return _plain(request, 404, _("There is no such page here."))


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The page for a form that was not made for this sign-in: left open since before, or sent from elsewhere."""
    return _plain(request, 403, _("This page is older than your sign-in. Open it again, then send it."))


def _plain(request: HttpRequest, status: int, sentence: str) -> HttpResponse:
    return render(request, "plain.html", {"sentence": sentence}, status=status)
