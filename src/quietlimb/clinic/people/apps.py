"""How the framework knows this room."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.people"
    label = "people"
