"""Who is signed in, fetched for each request with the practice that every page asks for."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import ModelBackend

from quietlimb.clinic.people.models import Person


class PeopleOfPractices(ModelBackend):
    """Names and passwords as the framework checks them; the person comes with her practice, which saves a query."""

    def get_user(self, user_id: Any) -> Person | None:
        """The person of a signed-in browser, or None where she may not sign in any more."""
        person = Person.objects.select_related("practice").filter(pk=user_id).first()
        return person if person is not None and self.user_can_authenticate(person) else None
