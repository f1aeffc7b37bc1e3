"""The framework's support pages as this site wires them: behind a door of its own."""

from django.contrib.admin.apps import AdminConfig


class SupportConfig(AdminConfig):
    default_site = "studio.support.SupportSite"
