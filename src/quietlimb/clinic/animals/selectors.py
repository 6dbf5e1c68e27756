"""Finding animals by a few letters."""

from __future__ import annotations

from django.db.models import F, Max, Q, QuerySet

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.rights import Anyone, visible
from quietlimb.clinic.sought import words_of

MOST_HITS = 20
# Databases differ in where nothing stands among values.
SEEN_LAST_FIRST = (F("deceased_on").asc(nulls_first=True), F("last_seen").desc(nulls_last=True), "name", "id")


def animals_sought(person: Anyone, letters: str) -> QuerySet[Animal]:
    """All animals whose name or number, or whose owner's name, telephone or number, holds every one of these words.

    Capitals and accents do not matter. Those seen last come first, those that have died last. Doubles are left out: the
    one that stands is found.
    """
    found = visible(person, Animal).filter(merged_into=None).select_related("owner", "practice")
    for word in words_of(letters):
        found = found.filter(Q(sought__contains=word) | Q(owner__sought__contains=word))
    return found.annotate(last_seen=Max("sessions__started_at")).order_by(*SEEN_LAST_FIRST)


def animals_found(person: Anyone, letters: str, *, like: Animal | None = None) -> QuerySet[Animal]:
    """The first of them, as many as stand under a field while one types.

    like : only others of the same species as this one
    """
    found = animals_sought(person, letters)
    if like is not None:
        found = found.filter(species=like.species).exclude(pk=like.pk)
    return found[:MOST_HITS]


def animals_alike(person: Anyone, name: str, species: str, owner_name: str) -> QuerySet[Animal]:
    """Living animals of this name and species that have this owner; of any owner where none is told."""
    found = visible(person, Animal).filter(merged_into=None, deceased_on=None, name__iexact=name, species=species)
    owner = owner_name.strip()
    return (found.filter(owner__name__iexact=owner) if owner else found).select_related("owner").order_by("id")
