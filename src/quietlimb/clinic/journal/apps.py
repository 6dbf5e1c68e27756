"""How the framework knows this room."""

from django.apps import AppConfig


class JournalConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.journal"
    label = "journal"
