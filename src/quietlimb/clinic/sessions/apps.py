"""How the framework knows this room."""

from django.apps import AppConfig


class SessionsConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.sessions"
    label = "measuring"  # `sessions` is taken by the framework, for those of browsers
