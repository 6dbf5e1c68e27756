"""Who is in front of the screen now. After some idle minutes a person says again who it is, by a short code.

The browser itself stays known for as long as a password lasts, so that the short code is enough.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import Any, TypeVar

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.cache import add_never_cache_headers

from quietlimb.clinic.people.models import Person

View = Callable[..., HttpResponseBase]
Marked = TypeVar("Marked", bound=View)

PASSWORD_AT, TOUCHED_AT = "password_at", "touched_at"
TOUCH_EVERY_S = 60


def resting(request: HttpRequest) -> Person | None:
    """Who was at work here before the rest, and may come back by short code; None while somebody is at work."""
    found: Person | None = getattr(request, "_resting", None)
    return found


def asked_by_the_page(view: Marked) -> Marked:
    """Mark a view that an open page asks for again and again: it keeps nobody signed in."""
    view.asked_by_the_page = True  # type: ignore[attr-defined]
    return view


class ExpiryMiddleware:
    """Ends what has expired, before any view sees the person."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        person = request.user
        if isinstance(person, Person):
            now = timezone.now().timestamp()
            if not person.is_active or now - request.session.get(PASSWORD_AT, 0) > settings.SESSION_COOKIE_AGE:
                request.session.flush()
                request.user = AnonymousUser()
            elif now - request.session.get(TOUCHED_AT, 0) > settings.IDLE_MINUTES * 60:
                request._resting = person  # type: ignore[attr-defined]
                request.user = AnonymousUser()
            else:
                timezone.activate(zoneinfo.ZoneInfo(person.practice.time_zone))
        try:
            answer = self.get_response(request)
        finally:
            timezone.deactivate()
        add_never_cache_headers(answer)  # what was on the screen must not come back by the button after signing out
        return answer

    def process_view(self, request: HttpRequest, view: View, arguments: Any, named: Any) -> None:
        """Count a touch, unless the page asked for this by itself: then nobody need be in front of it."""
        now = timezone.now().timestamp()
        if not isinstance(request.user, Person) or getattr(view, "asked_by_the_page", False):
            return
        if now - request.session.get(TOUCHED_AT, 0) > TOUCH_EVERY_S:
            request.session[TOUCHED_AT] = now
