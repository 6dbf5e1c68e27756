"""How the framework knows this room."""

from django.apps import AppConfig


class ComparisonsConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.comparisons"
    label = "comparisons"
