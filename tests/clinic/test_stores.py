"""Two stores, the same pages. Oracle: by construction, each row was written in one store and is looked for in both."""

from __future__ import annotations

import pytest

from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person, Practice
from quietlimb.clinic.stores import PRACTICE, TEACHING, present, together, working_in

pytestmark = pytest.mark.django_db(databases=[PRACTICE, TEACHING])


def names(store: str) -> set[str]:
    return set(Practice.objects.using(store).values_list("name", flat=True))


def test_what_is_written_in_one_store_is_in_no_other() -> None:
    Practice.objects.create(name="of the practice")
    with working_in(TEACHING):
        Practice.objects.create(name="of the learners")
    assert names(PRACTICE) == {"of the practice"}
    assert names(TEACHING) == {"of the learners"}
    assert present() == PRACTICE


def test_the_journal_goes_with_what_it_tells() -> None:
    with working_in(TEACHING), together():
        practice = Practice.objects.create(name="of the learners")
        entry = journal.write(None, "practice set up", practice)
    assert entry._state.db == TEACHING


@pytest.mark.parametrize("store", [PRACTICE, TEACHING])
def test_a_fault_undoes_all_of_it_in_its_store(store: str) -> None:
    @together()
    def half() -> None:
        Practice.objects.create(name="half")
        raise ValueError

    with working_in(store), pytest.raises(ValueError):  # type: ignore[arg-type]  # noqa: PT011  # raised just above
        half()
    assert names(store) == set()


def test_rows_of_two_stores_are_not_tied_together() -> None:
    with working_in(TEACHING):
        practice = Practice.objects.create(name="of the learners")
    person = Person(username="linnet", name="Linnet")
    person._state.db = PRACTICE
    with pytest.raises(ValueError, match="prevents this relation"):
        person.practice = practice
