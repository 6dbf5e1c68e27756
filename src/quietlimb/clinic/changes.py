"""What a page asks of its list of changes."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from quietlimb.clinic.lists import Asked, asked_of_a_list

CHOICES = {
    "changes": (_("Order"), [("", _("the latest first")), ("oldest", _("the oldest first"))]),
    "changed": (
        _("Show"),
        [("", _("the latest 20")), ("values", _("only what changed a value")), ("all", _("all, up to 500"))],
    ),
}


def changes_asked(request: HttpRequest) -> Asked:
    """What the address of a page asks of its list of changes."""
    return asked_of_a_list(request, CHOICES)
