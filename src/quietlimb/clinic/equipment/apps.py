"""How the framework knows this room."""

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    """See the package."""

    name = "quietlimb.clinic.equipment"
    label = "equipment"
