"""Support for sound: how far each recording’s measuring has come, and what was heard. To read; nothing changes here."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from analysis.models import Analysis, Result


class ReadAdmin(admin.ModelAdmin):  # type: ignore[type-arg]  # of either model
    """Written by the worker alone."""

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(Analysis)
class AnalysisAdmin(ReadAdmin):
    list_display = ("id", "state", "fault_code", "audio_bytes", "claims", "lost", "deaths", "created_at", "measured_at")
    list_filter = ("state", "fault_code")
    search_fields = ("id", "sha256")
    date_hierarchy = "created_at"
    exclude = ("token", "audio")  # recordings are heard through pages that ask who is asking


@admin.register(Result)
class ResultAdmin(ReadAdmin):
    list_display = ("analysis", "engine", "made_at")
    list_filter = ("engine",)
    search_fields = ("analysis__id",)
    date_hierarchy = "made_at"
