"""The first lead of a practice: of the first one by the code that was printed at the start, of another by its own code.

A practice is made where the clinic runs, by whoever may start it, and never in the browser: nobody of one practice has
a say in another.
"""

from __future__ import annotations

import secrets

from django.conf import settings
from django.contrib.auth.hashers import check_password, make_password
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from quietlimb.clinic.canonical import columns
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people import throttling
from quietlimb.clinic.people.codes import CODE_LASTS, new_code, plain
from quietlimb.clinic.people.models import Person, Practice, Role
from quietlimb.clinic.people.signing_in import first_lead_is_missing, person_make
from quietlimb.clinic.stores import together
from quietlimb.engine.errors import QuietlimbError

FIRST = "the first lead"
LONGEST_NAME = 120


class PracticeError(QuietlimbError):
    """This practice cannot be made."""


@together()
def practice_invite(name: str) -> str:
    """The code with which its first lead sets up another practice; asked again, a new one, and the earlier is void.

    Raises PracticeError for a name that is empty, too long, or of a practice with people in it.
    """
    name = name.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise PracticeError("no-name", _("This is no name for a practice"), _("give one of at most 120 letters"))
    same = [each for each in Practice.objects.select_for_update() if each.name.casefold() == name.casefold()]
    if any(each.people.exists() for each in same):
        raise PracticeError("there-already", _("There is a practice of this name"), _("choose a name that differs"))
    code = new_code()
    practice = same[0] if same else Practice(name=name)
    practice.first_code, practice.first_code_until = make_password(plain(code)), timezone.now() + CODE_LASTS
    practice.save()
    journal.write(None, "code for the first lead given", practice)
    return code


def waiting_practices() -> list[Practice]:
    """Those whose first lead may come now."""
    waiting = Practice.objects.exclude(first_code="").filter(first_code_until__gt=timezone.now(), people=None)
    return list(waiting.order_by("id"))


def page_is_open() -> bool:
    """Whether some first lead is waited for."""
    return first_lead_is_missing() or bool(waiting_practices())


def practice_opened(request: HttpRequest, code: str) -> Practice | None:
    """The practice that this code opens, not saved yet where it is the first of all; None where it is none's, or may
    not be tried now."""
    if throttling.try_sign_in(FIRST, throttling.address_of(request)):
        return None
    typed, printed = plain(code), settings.CONFIGURATION.first_code
    if first_lead_is_missing():
        right = printed is not None and secrets.compare_digest(typed.encode(), plain(printed).encode())
        return Practice() if right else None
    return next((each for each in waiting_practices() if check_password(typed, each.first_code)), None)


def wait_for_first(request: HttpRequest) -> int:
    """Seconds until a code may be tried again from this address."""
    return throttling.wait_for_sign_in(FIRST, throttling.address_of(request))


def is_taken(username: str) -> bool:
    """Whether somebody, of whatever practice, signs in by this name."""
    return Person.objects.filter(username=username.strip().lower()).exists()


@together()
def first_lead_make(
    practice: Practice, *, practice_name: str, time_zone: str, name: str, username: str, password: str
) -> Person:
    """The lead of a practice that `practice_opened` gave, and the practice where it is the first of all.

    practice_name : of the first of all; another one was named where it was made

    Raises PermissionDenied where somebody has been first meanwhile.
    """
    if practice._state.adding:
        if not first_lead_is_missing():
            raise PermissionDenied
        practice = Practice.objects.create(name=practice_name, time_zone=time_zone)
        journal.write(None, "practice set up", practice)
    else:
        practice = Practice.objects.select_for_update().get(pk=practice.pk)
        if not practice.first_code or practice.people.exists():
            raise PermissionDenied
        before = columns(practice)
        practice.time_zone, practice.first_code, practice.first_code_until = time_zone, "", None
        practice.save(update_fields=["time_zone", "first_code", "first_code_until"])
        journal.write(None, "practice set up", practice, before=before, after=columns(practice))
    return person_make(None, practice=practice, name=name, username=username, password=password, roles=[Role.LEAD])
