from django.apps import AppConfig


class AssignmentsConfig(AppConfig):
    name = "assignments"
    default_auto_field = "django.db.models.BigAutoField"
