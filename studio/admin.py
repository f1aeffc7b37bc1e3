"""Support: looking things up, and putting right what pages can't. What is history is shown and never changed here."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern
from django.utils.translation import gettext_lazy as _

from studio import access_log, enrolment, sessions
from studio.access import signed_in
from studio.models import Consent, Device, Horn, Invitation, LogRow, Membership, Session, Studio, User


class HistoryAdmin(admin.ModelAdmin):  # type: ignore[type-arg]  # of any model
    """Rows to read: they are written by what people do."""

    def has_add_permission(self, request: HttpRequest, *args: Any) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


RIGHTS = ("is_staff", "is_superuser", "groups", "user_permissions")


@admin.register(User)
class PersonAdmin(UserAdmin):
    list_display = ("username", "name", "is_active", "is_staff", "last_login")
    list_filter = ("is_active", "is_staff")
    search_fields = ("username", "name")
    ordering = ("username",)
    fieldsets = (
        (None, {"fields": ("username", "password", "name", "light")}),
        (_("Rights in support"), {"fields": ("is_active", *RIGHTS)}),
        (_("Dates"), {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = ((None, {"fields": ("username", "name", "usable_password", "password1", "password2")}),)
    readonly_fields = ("last_login", "date_joined")
    actions = ("sign_out_everywhere",)

    def get_readonly_fields(self, request: HttpRequest, obj: User | None = None) -> tuple[str, ...]:
        """Rights are given by whoever has all of them: who may change people would else give themselves the rest."""
        return self.readonly_fields if signed_in(request).is_superuser else (*self.readonly_fields, *RIGHTS)

    def has_change_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        return super().has_change_permission(request, obj) and _may_touch(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        return super().has_delete_permission(request, obj) and _may_touch(request, obj)

    def user_change_password(self, request: HttpRequest, id: str, form_url: str = "") -> HttpResponse:
        """Whoever was signed in with the old passphrase is out, on every device; notes of reminders end with that."""
        answer = super().user_change_password(request, id, form_url)
        if request.method == "POST" and answer.status_code == 302:
            user = User.objects.get(pk=id)
            if sessions.end_all(user, but=request.session.session_key):
                access_log.of_account(access_log.What.SIGNED_OUT_ELSEWHERE, user, by=signed_in(request))
        return answer

    @admin.action(description=_("Sign out everywhere"), permissions=["change"])
    def sign_out_everywhere(self, request: HttpRequest, chosen: QuerySet[User]) -> None:
        for user in chosen:
            sessions.end_all(user)
            access_log.of_account(access_log.What.SIGNED_OUT_ELSEWHERE, user, by=signed_in(request))
        self.message_user(request, _("They are signed out on every device."))


def _may_touch(request: HttpRequest, person: User | None) -> bool:
    """Another account of support is touched by whoever has every right alone: it would open what they may not see."""
    by = signed_in(request)
    return person is None or by.is_superuser or person == by or not (person.is_staff or person.is_superuser)


@admin.register(Studio)
class StudioAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "time_zone", "a4_hz", "keep_takes_days")
    search_fields = ("name",)


class PlaceForm(forms.ModelForm):  # type: ignore[type-arg]  # of a membership
    """What somebody is, and until when: as an owner would have to keep to it."""

    def clean(self) -> dict[str, Any]:
        sent: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.instance._state.adding:
            try:
                enrolment.see_that_it_can_be(self.instance, sent["role"], sent["ends_on"])
            except enrolment.PlaceRefusedError as refusal:
                raise forms.ValidationError(str(refusal)) from refusal
        return sent


@admin.register(Membership)
class MembershipAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """A place stays somebody's, in that studio. An owner's is not deleted, nor are they: another one is named first."""

    form = PlaceForm
    list_display = ("user", "role", "studio", "joined_on", "ends_on", "lesson_weekday", "lesson_at")
    list_filter = ("role", "studio")
    list_select_related = ("user", "studio")
    search_fields = ("user__username", "user__name")
    autocomplete_fields = ("user", "studio", "wards")

    def get_readonly_fields(self, request: HttpRequest, obj: Membership | None = None) -> tuple[str, ...]:
        return ("user", "studio") if obj else ()

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        is_owner = isinstance(obj, Membership) and obj.role == Membership.Role.OWNER
        return super().has_delete_permission(request, obj) and not is_owner


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
    """Who is signed in where. The list is all there is: a row's own page, a box to tick or a link to either would name
    its key, which opens that sign-in. People are signed out in the list of people."""

    list_display = ("user", "device", "begun_at", "seen_at", "expire_date")
    list_display_links = None
    list_select_related = ("user",)
    search_fields = ("user__username", "user__name")
    actions = None

    def get_urls(self) -> list[URLPattern]:
        return [page for page in super().get_urls() if page.name and page.name.endswith("_changelist")]

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        """A sign-in goes with whose it is."""
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
