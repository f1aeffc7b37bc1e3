from django.apps import AppConfig


class AnalysisConfig(AppConfig):
    name = "analysis"
    default_auto_field = "django.db.models.BigAutoField"
