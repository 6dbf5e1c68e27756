"""Slows down guessing, without a way to lock a whole practice out.

Three counters, of which the strictest holds: of one name from one address, of one name from anywhere, of one address
whatever the name. The last two pass over anybody who has signed in from this address before. So a stranger at the same
address, or anywhere, can make nobody wait who is at her usual place; only wrong passwords for her own name, typed
there, can.

A counter of our own and not a package: what was looked at locks by combinations of name and address, but knows no
exception for a known place, which is the point here.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone

from quietlimb.clinic.people.models import Attempts, KnownAddress, Person

FORGOTTEN_AFTER = timedelta(hours=1)
KNOWN_FOR = timedelta(days=90)
LONGEST_S = 900


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """So many failures cost nothing; each further one doubles the wait, from `first_s` on."""

    free: int
    first_s: int

    def wait_s(self, failures: int) -> int:
        """How long to wait after the last failure."""
        over = failures - self.free
        return 0 if over < 0 else min(LONGEST_S, self.first_s * 2 ** min(over, 20))


# [invented] A hand makes five slips in an hour, a practice hardly forty.
NAME_HERE, NAME_ANYWHERE, ADDRESS = Limit(free=5, first_s=15), Limit(free=20, first_s=60), Limit(free=40, first_s=60)
CODE = Limit(free=5, first_s=LONGEST_S)  # a short code has few values


def address_of(request: HttpRequest) -> str:
    """The address of the other end; forwarded ones are not believed."""
    return str(request.META.get("REMOTE_ADDR", ""))


def wait_for_sign_in(username: str, address: str) -> int:
    """Seconds until this name may be tried again from this address; 0 for now."""
    waits = [_wait(NAME_HERE, "here", username, address)]
    if not _is_known(username, address):
        waits += [_wait(NAME_ANYWHERE, "name", username), _wait(ADDRESS, "address", address)]
    return max(waits)


def sign_in_failed(username: str, address: str) -> None:
    """Count a wrong name or password."""
    for parts in (("here", username, address), ("name", username), ("address", address)):
        _count(*parts)


def signed_in(person: Person, address: str) -> None:
    """Forget this person's slips here, and know the address from now on. Her short code may be tried again."""
    Attempts.objects.filter(
        digest__in=[_digest("here", person.username, address), _digest("code", person.username)]
    ).delete()
    KnownAddress.objects.update_or_create(
        person=person, digest=_digest("known", address), defaults={"last_at": timezone.now()}
    )


def wait_for_code(username: str) -> int:
    """Seconds until the short code of this name may be tried again."""
    return _wait(CODE, "code", username)


def code_failed(username: str) -> None:
    """Count a wrong short code."""
    _count("code", username)


def _is_known(username: str, address: str) -> bool:
    since = timezone.now() - KNOWN_FOR
    return KnownAddress.objects.filter(
        person__username=username, digest=_digest("known", address), last_at__gte=since
    ).exists()


def _digest(*parts: str) -> str:
    """Names and addresses are not kept, only what is needed to know them again."""
    return hmac.new(settings.SECRET_KEY.encode(), "\0".join(parts).encode(), "sha256").hexdigest()


def _wait(limit: Limit, *parts: str) -> int:
    found = Attempts.objects.filter(digest=_digest(*parts)).first()
    if found is None or found.last_at < timezone.now() - FORGOTTEN_AFTER:
        return 0
    passed = (timezone.now() - found.last_at).total_seconds()
    return max(0, round(limit.wait_s(found.failures) - passed))


def _count(*parts: str) -> None:
    with transaction.atomic():
        now = timezone.now()
        found, _made = Attempts.objects.select_for_update().get_or_create(
            digest=_digest(*parts), defaults={"last_at": now}
        )
        fresh = found.last_at < now - FORGOTTEN_AFTER
        found.failures = 1 if fresh else found.failures + 1
        found.last_at = now
        found.save(update_fields=["failures", "last_at"])
