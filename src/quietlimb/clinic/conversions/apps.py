"""How the framework knows this room."""

from django.apps import AppConfig


class ConversionsConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.conversions"
    label = "conversions"
