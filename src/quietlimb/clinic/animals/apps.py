"""How the framework knows this room."""

from django.apps import AppConfig


class AnimalsConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.animals"
    label = "animals"
