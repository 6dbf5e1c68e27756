"""Slows down guessing, without a way to lock a whole practice out.

Three counters, of which the strictest holds: of one name from one address, of one name from anywhere, of one address
whatever the name. The last two pass over anybody who has signed in from this address before. So a stranger at the same
address, or anywhere, can make nobody wait who is at her usual place; only wrong passwords for her own name, typed
there, can.

A try is counted before the secret is looked at, in one transaction with the question whether it has to wait, and taken
back where the secret was right. Else a thousand guesses that come at once would all be looked at.

A counter of our own and not a package: what was looked at locks by combinations of name and address, but knows no
exception for a known place, which is the point here.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings
from django.db.models import F
from django.http import HttpRequest
from django.utils import timezone

from quietlimb.clinic.people.models import Attempts, KnownAddress, Person
from quietlimb.clinic.stores import together

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
CODE_TRIES = 5  # a short code has few values, and waiting would give more tries for nothing [invented]


def address_of(request: HttpRequest) -> str:
    """The address of the other end; forwarded ones are not believed."""
    return str(request.META.get("REMOTE_ADDR", ""))


def wait_for_sign_in(username: str, address: str) -> int:
    """Seconds until this name may be tried again from this address; 0 for now."""
    waits = [_wait(NAME_HERE, *_here(username, address))]
    if not _is_known(username, address):
        waits += [_wait(NAME_ANYWHERE, "name", username), _wait(ADDRESS, "address", address)]
    return max(waits)


def try_sign_in(username: str, address: str) -> int:
    """Count a try of this name from this address; else, where it has to wait, the seconds. 0 where it was counted."""
    binding = not _is_known(username, address)
    return _try(
        [
            # first, so that a thousand names from one address do not make a thousand rows
            (ADDRESS, binding, ("address", address)),
            (NAME_ANYWHERE, binding, ("name", username)),
            (NAME_HERE, True, _here(username, address)),
        ]
    )


def signed_in(person: Person, address: str) -> None:
    """Take this try back, and forget the person's slips here; know the address from now on.

    Her short code may be tried again.
    """
    with together():
        for parts in (("name", person.username), ("address", address)):
            Attempts.objects.filter(digest=_digest(*parts), failures__gt=0).update(failures=F("failures") - 1)
        forgotten = [_digest(*_here(person.username, address)), _digest("code", person.username)]
        Attempts.objects.filter(digest__in=forgotten).delete()
        KnownAddress.objects.update_or_create(
            person=person, digest=_digest("known", address), defaults={"last_at": timezone.now()}
        )


@together()
def try_code(username: str) -> bool:
    """Count a try of this name's short code. False where a password is needed first."""
    row, _made = Attempts.objects.select_for_update().get_or_create(
        digest=_digest("code", username), defaults={"last_at": timezone.now()}
    )
    if row.failures >= CODE_TRIES:
        return False
    row.failures, row.last_at = row.failures + 1, timezone.now()
    row.save(update_fields=["failures", "last_at"])
    return True


def needs_password(username: str) -> bool:
    """Whether this name's short code has been tried too often since the person last typed her password."""
    return Attempts.objects.filter(digest=_digest("code", username), failures__gte=CODE_TRIES).exists()


def code_was_right(username: str) -> None:
    """Forget the slips with this name's short code."""
    Attempts.objects.filter(digest=_digest("code", username)).delete()


def _here(username: str, address: str) -> tuple[str, str, str]:
    return "here", username, address


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
    return 0 if found is None else _left_s(limit, found)


def _left_s(limit: Limit, found: Attempts) -> int:
    now = timezone.now()
    if found.last_at < now - FORGOTTEN_AFTER:
        return 0
    return max(0, round(limit.wait_s(found.failures) - (now - found.last_at).total_seconds()))


@together()
def _try(counters: list[tuple[Limit, bool, tuple[str, ...]]]) -> int:
    """Count in all of these, unless one that binds says to wait: then its seconds, and nothing is counted.

    counters : limit, whether it binds, and who tries what
    """
    now = timezone.now()
    rows = []
    for limit, binds, parts in counters:
        # Whoever comes at the same time waits here until this transaction ends, and then finds the higher count.
        row, _made = Attempts.objects.select_for_update().get_or_create(
            digest=_digest(*parts), defaults={"last_at": now}
        )
        wait = _left_s(limit, row) if binds else 0
        if wait:
            return wait
        rows.append(row)
    for row in rows:
        row.failures = 1 if row.last_at < now - FORGOTTEN_AFTER else row.failures + 1
        row.last_at = now
        row.save(update_fields=["failures", "last_at"])
    return 0
