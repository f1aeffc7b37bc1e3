"""Support: looking things up, and putting right what pages can't. What is history is shown and never changed here."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db.models import Model
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from studio.models import Consent, Device, Horn, Invitation, LogRow, Membership, Session, Studio, User


class HistoryAdmin(admin.ModelAdmin):  # type: ignore[type-arg]  # of any model
    """Rows to read: they are written by what people do."""

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(User)
class PersonAdmin(UserAdmin):
    list_display = ("username", "name", "is_active", "is_staff", "last_login")
    list_filter = ("is_active", "is_staff")
    search_fields = ("username", "name")
    ordering = ("username",)
    fieldsets = (
        (None, {"fields": ("username", "password", "name", "light")}),
        (_("Rights in support"), {"fields": ("is_active", "is_staff", "is_superuser", "groups", "user_permissions")}),
        (_("Dates"), {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = ((None, {"fields": ("username", "name", "usable_password", "password1", "password2")}),)
    readonly_fields = ("last_login", "date_joined")


@admin.register(Studio)
class StudioAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "time_zone", "a4_hz", "keep_takes_days")
    search_fields = ("name",)


@admin.register(Membership)
class MembershipAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("user", "role", "studio", "joined_on", "ends_on", "lesson_weekday", "lesson_at")
    list_filter = ("role", "studio")
    list_select_related = ("user", "studio")
    search_fields = ("user__username", "user__name")
    autocomplete_fields = ("user", "studio", "wards")


@admin.register(Horn)
class HornAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("player", "kind", "lowest_written_midi", "highest_keyed_written_midi", "level", "put_away_on")
    list_filter = ("kind", "level")
    list_select_related = ("player__user",)
    search_fields = ("player__user__username", "player__user__name")
    autocomplete_fields = ("player",)


@admin.register(Consent)
class ConsentAdmin(HistoryAdmin):
    list_display = ("student", "given_by", "how", "wording", "given_at", "withdrawn_at", "logged_by")
    list_filter = ("how", "wording")
    list_select_related = ("student__user", "logged_by")
    search_fields = ("student__user__username", "student__user__name", "given_by")


@admin.register(Invitation)
class InvitationAdmin(HistoryAdmin):
    list_display = ("role", "name", "studio", "made_by", "made_at", "expires_at", "used_at", "revoked_at")
    list_filter = ("role", "studio")
    list_select_related = ("studio", "made_by")
    exclude = ("code_hash",)


@admin.register(Session)
class SessionAdmin(HistoryAdmin):
    """Who is signed in where; deleting a row signs them out there."""

    list_display = ("user", "device", "begun_at", "seen_at", "expire_date")
    list_select_related = ("user",)
    search_fields = ("user__username", "user__name")
    exclude = ("session_key", "session_data")

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return admin.ModelAdmin.has_delete_permission(self, request, obj)


@admin.register(Device)
class DeviceAdmin(HistoryAdmin):
    list_display = ("name", "studio", "enrolled_by", "enrolled_at")
    list_select_related = ("studio", "enrolled_by")
    exclude = ("secret_hash",)


@admin.register(LogRow)
class LogAdmin(HistoryAdmin):
    list_display = ("at", "what", "studio", "who_id", "about_id", "address")
    list_filter = ("what", "studio")
    list_select_related = ("studio",)
    date_hierarchy = "at"
