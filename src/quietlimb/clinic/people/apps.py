"""How the framework knows this room."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.people"
    label = "people"

    def ready(self) -> None:
        """Before the first form is asked: limits are told in our words."""
        from quietlimb.clinic.limits_told import tell_limits

        tell_limits()
