"""People who always exist: an invented practice with everybody in it, and one beside it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from clinic.examples import PASSWORD, Clinic, invented_clinic
from quietlimb.clinic.people.models import Person


@pytest.fixture
def clinic(db: None) -> Clinic:
    """The invented practice, its people, an animal, an instrument, an open session; and a stranger."""
    return invented_clinic(datetime(2024, 1, 4, 9, 0, tzinfo=UTC))


@pytest.fixture
def signed_in(client: Client) -> Callable[[Person], Client]:
    """A browser in which a person has signed in with her password."""

    def sign_in(person: Person) -> Client:
        answer = client.post("/sign-in", {"username": person.username, "password": PASSWORD})
        assert answer.status_code == 302, answer.content
        return client

    return sign_in
