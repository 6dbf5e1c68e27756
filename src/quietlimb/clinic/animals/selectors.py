"""Finding animals by a few letters."""

from __future__ import annotations

from django.db.models import Max, Q, QuerySet

from quietlimb.clinic.animals.models import Animal
from quietlimb.clinic.rights import Anyone, visible

MOST_HITS = 20


def animals_found(person: Anyone, letters: str, *, like: Animal | None = None) -> QuerySet[Animal]:
    """Animals whose name, owner or number holds every one of these words; without any word, those seen last.

    like : only others of the same species as this one

    Doubles are left out: the one that stands is found.
    """
    found = visible(person, Animal).filter(merged_into=None).select_related("owner")
    if like is not None:
        found = found.filter(species=like.species).exclude(pk=like.pk)
    for word in letters.replace("\0", " ").split()[:5]:  # which PostgreSQL would refuse
        found = found.filter(
            Q(name__icontains=word)
            | Q(owner__name__icontains=word)
            | Q(link_id__istartswith=word)
            | Q(owner__link_id__istartswith=word)
        )
    last = found.annotate(last_seen=Max("sessions__started_at"))
    return last.order_by("deceased_on", "-last_seen", "name")[:MOST_HITS]


def animals_alike(person: Anyone, name: str, species: str, owner_name: str) -> QuerySet[Animal]:
    """Living animals of this name and species that have this owner; of any owner where none is told."""
    found = visible(person, Animal).filter(merged_into=None, deceased_on=None, name__iexact=name, species=species)
    owner = owner_name.strip()
    return (found.filter(owner__name__iexact=owner) if owner else found).select_related("owner").order_by("id")
