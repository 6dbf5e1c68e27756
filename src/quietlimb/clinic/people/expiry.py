"""Who is in front of the screen now. After some idle minutes a person says again who it is, by a short code.

The browser itself stays known for as long as a password lasts, so that the short code is enough.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from quietlimb.clinic.people.models import Person

PASSWORD_AT, TOUCHED_AT = "password_at", "touched_at"
TOUCH_EVERY_S = 60


def resting(request: HttpRequest) -> Person | None:
    """Who was at work here before the rest, and may come back by short code; None while somebody is at work."""
    found: Person | None = getattr(request, "_resting", None)
    return found


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
                if now - request.session[TOUCHED_AT] > TOUCH_EVERY_S:
                    request.session[TOUCHED_AT] = now
                timezone.activate(zoneinfo.ZoneInfo(person.practice.time_zone))
        try:
            return self.get_response(request)
        finally:
            timezone.deactivate()
