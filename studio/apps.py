from importlib import import_module

from django.apps import AppConfig


class StudioConfig(AppConfig):
    name = "studio"

    def ready(self) -> None:
        shut = import_module("axes.signals").user_locked_out  # both know models, which can be loaded by now
        shut.connect(import_module("studio.guesses").note)
        import_module("studio.field_words").take_over()
