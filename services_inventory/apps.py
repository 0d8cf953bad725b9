"""What is in the ground: places, service lines, the evidence and the category it gives."""

from django.apps import AppConfig


class ServicesInventoryConfig(AppConfig):
    name = "services_inventory"
    verbose_name = "Service line inventory"
    default_auto_field = "django.db.models.BigAutoField"
