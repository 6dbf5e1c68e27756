"""Signing in by name and password, coming back or changing person by short code, and new people."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import authenticate, login
from django.http import HttpRequest
from django.utils import timezone

from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people import throttling
from quietlimb.clinic.people.expiry import PASSWORD_AT, TOUCHED_AT, resting
from quietlimb.clinic.people.models import Membership, Person, Practice, Role
from quietlimb.clinic.stores import together


def sign_in(request: HttpRequest, *, username: str, password: str) -> Person | int:
    """The person who is now signed in; else the seconds to wait, 0 where name or password were wrong."""
    username, address = username.strip().lower(), throttling.address_of(request)
    wait = throttling.try_sign_in(username, address)
    if wait:
        return wait
    person = authenticate(request, username=username, password=password)
    if not isinstance(person, Person):
        return 0
    throttling.signed_in(person, address)
    _enter(request, person, password_at=timezone.now().timestamp())
    return person


def known_here(request: HttpRequest) -> Person | None:
    """The person whose password keeps this browser known, at work or resting."""
    at_work = request.user
    return at_work if isinstance(at_work, Person) else resting(request)


def change_person(request: HttpRequest, *, username: str, code: str) -> Person | None:
    """Who has come back or taken over by a short code; None where it was wrong, or a password is needed first.

    Only of the practice whose password keeps this browser known, and never beyond that password's time.
    """
    here = known_here(request)
    username = username.strip().lower()
    if here is None or not throttling.try_code(username):
        return None
    person = Person.objects.filter(username=username, is_active=True, practice=here.practice_id).first()
    if person is None or not person.has_short_code(code):
        return None
    throttling.code_was_right(username)
    _enter(request, person, password_at=request.session[PASSWORD_AT])
    return person


def first_lead_is_missing() -> bool:
    """Whether nobody can sign in yet."""
    return not Person.objects.exists()


@together()
def person_make(
    by: Person | None, *, practice: Practice, name: str, username: str, password: str | None, roles: list[Role]
) -> Person:
    """A new person with her roles, told to the journal. Without a password she cannot sign in until she sets one."""
    person = Person(practice=practice, name=name, username=username.strip().lower())
    person.set_password(password)
    person.save(force_insert=True)
    journal.write(by, "person added", person)
    for role in roles:
        held = Membership.objects.create(practice=practice, person=person, role=role, since=timezone.localdate())
        journal.write(by, "role given", held)
    return person


def _enter(request: HttpRequest, person: Person, *, password_at: float) -> None:
    login(request, person, backend=settings.AUTHENTICATION_BACKENDS[0])
    request.session[PASSWORD_AT] = password_at
    request.session[TOUCHED_AT] = timezone.now().timestamp()
