"""Support for work: what was set, played and decided. History is read here, never rewritten."""

from __future__ import annotations

from django.contrib import admin

from assignments.models import (
    Comment,
    DayPlan,
    Decision,
    Exercise,
    Hearing,
    Opening,
    PlayedDay,
    Routine,
    Take,
    Try,
    Week,
)
from studio.admin import HistoryAdmin

PLAYER = ("horn__player__user__username", "horn__player__user__name")
WITH_PLAYER = ("horn__player__user",)


@admin.register(Routine)
class RoutineAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "studio", "summary")
    list_filter = ("studio",)
    list_select_related = ("studio",)
    search_fields = ("name",)


class ExerciseInline(admin.TabularInline):  # type: ignore[type-arg]
    model = Exercise
    fields = readonly_fields = ("position", "kind", "stage", "tones")
    extra = 0
    can_delete = False

    def has_add_permission(self, *args: object) -> bool:
        return False


@admin.register(Week)
class WeekAdmin(HistoryAdmin):
    list_display = ("horn", "starts_on", "ends_on", "budget_minutes", "focus", "set_by", "set_at")
    list_select_related = (*WITH_PLAYER, "set_by")
    search_fields = PLAYER
    date_hierarchy = "starts_on"
    inlines = (ExerciseInline,)


@admin.register(DayPlan)
class DayPlanAdmin(HistoryAdmin):
    list_display = ("horn", "on", "week", "opened_at", "stopped_hurting_at")
    list_select_related = (*WITH_PLAYER, "week__horn__player__user")
    search_fields = PLAYER
    date_hierarchy = "on"


@admin.register(Take)
class TakeAdmin(HistoryAdmin):
    list_display = ("id", "horn", "on", "exercise_kind", "state", "received_at", "settled_at")
    list_filter = ("analysis__state", "exercise__kind")
    list_select_related = (*WITH_PLAYER, "analysis", "exercise")
    search_fields = (*PLAYER, "id")
    date_hierarchy = "on"

    @admin.display(description="exercise", ordering="exercise__kind")
    def exercise_kind(self, take: Take) -> str:
        return take.exercise.kind

    @admin.display(description="state", ordering="analysis__state")
    def state(self, take: Take) -> str:
        return take.analysis.state


@admin.register(Try)
class TryAdmin(HistoryAdmin):
    list_display = ("horn", "on", "written_midi", "tone", "outcome", "lane", "counts", "take")
    list_filter = ("outcome", "tone", "counts")
    list_select_related = (*WITH_PLAYER, "take")
    search_fields = PLAYER
    date_hierarchy = "on"


@admin.register(PlayedDay)
class PlayedDayAdmin(HistoryAdmin):
    list_display = ("horn", "on", "in_range")
    list_select_related = WITH_PLAYER
    search_fields = PLAYER
    exclude = ("counted",)


@admin.register(Comment)
class CommentAdmin(HistoryAdmin):
    list_display = ("made_at", "by", "horn", "text", "at_s", "seen_at")
    list_select_related = (*WITH_PLAYER, "by")
    search_fields = (*PLAYER, "by__name", "text")
    date_hierarchy = "made_at"

    def has_delete_permission(self, request, obj=None) -> bool:  # type: ignore[no-untyped-def]  # as in HistoryAdmin
        """A word that should not have been written can be taken away."""
        return admin.ModelAdmin.has_delete_permission(self, request, obj)


@admin.register(Decision)
class DecisionAdmin(HistoryAdmin):
    list_display = ("on", "kind", "stage", "horn", "by", "until_on", "words")
    list_filter = ("kind", "stage")
    list_select_related = (*WITH_PLAYER, "by")
    search_fields = PLAYER
    date_hierarchy = "on"


@admin.register(Opening)
class OpeningAdmin(HistoryAdmin):
    list_display = ("opened_on", "stage", "horn", "decision")
    list_filter = ("stage",)
    list_select_related = (*WITH_PLAYER, "decision")
    search_fields = PLAYER
    date_hierarchy = "opened_on"


@admin.register(Hearing)
class HearingAdmin(HistoryAdmin):
    list_display = ("at", "by", "take", "about_try")
    list_select_related = ("by", "take", "about_try")
    search_fields = ("by__username", "by__name")
    date_hierarchy = "at"
