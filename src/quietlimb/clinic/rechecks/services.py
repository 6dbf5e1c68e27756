"""Everything that writes to what came of telling an owner."""

from __future__ import annotations

from datetime import date

from quietlimb.clinic.animals.models import Recheck
from quietlimb.clinic.journal.changing import change
from quietlimb.clinic.people.models import Person

CONTACT = ("contact", "contact_on", "contact_by")


def contact_tell(by: Person, *, recheck: Recheck, contact: str, on: date) -> bool:
    """Keep what came of it, with who and when; an empty text takes it back. Told twice, it is written once."""
    if contact == recheck.contact_now:
        return False
    recheck.contact = contact
    recheck.contact_on, recheck.contact_by = (on, by) if contact else (None, None)
    return change(by, f"owner {contact}" if contact else "contact taken back", recheck, fields=CONTACT)
