"""How the framework knows this room."""

from django.apps import AppConfig


class TeachingConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.teaching"
    label = "teaching"
