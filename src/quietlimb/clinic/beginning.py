"""What a new practice lacks before the first session, for its lead, one step after the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.people.models import Person, Role
from quietlimb.clinic.rights import may, staff, visible


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Something that is not there yet: what to do, where, and what it is good for."""

    name: Any
    href: str
    why: Any


def steps_of(person: Person) -> list[Step]:
    """What is still to do; nothing for who does not lead, or once everything is there."""
    if not may(person, "lead"):
        return []
    held = {
        each.role for one in staff(person).filter(is_active=True) for each in one.memberships.all() if not each.until
    }
    practice = person.practice
    steps = (
        (
            {Role.NURSE, Role.VETERINARIAN} <= held,
            _("Add the people"),
            reverse("person-add"),
            _("a nurse to measure and a veterinarian to sign; you may give yourself these roles too"),
        ),
        (
            visible(person, Instrument).filter(gauge="").exists(),
            _("Add an instrument"),
            reverse("instrument-add"),
            _("with the order in which it shows its numbers"),
        ),
        (
            visible(person, Cuff).exists(),
            _("Add the cuffs"),
            reverse("cuff-add"),
            _("by the width of the bladder, so that the table can say which one fits"),
        ),
        (
            bool(practice.telephone_day and practice.telephone_night),
            _("Give the telephone numbers"),
            reverse("practice-settings"),
            _("they stand beside the danger signs that owners take home"),
        ),
    )
    return [Step(name=name, href=href, why=why) for there, name, href, why in steps if not there]
