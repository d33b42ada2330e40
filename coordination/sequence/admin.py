"""Administration pages for looking at houses, plans and bookings. Everything here is read only.

Rows that are only added (plans, told dates, the diary) and rows that the database guards (holds, bookings,
what lies before what) change by their acts alone; a form that writes one field would leave the others behind.
"""

from __future__ import annotations

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from coordination.sequence.models import (
    Activity,
    Booking,
    Change,
    Detail,
    Hold,
    House,
    Plan,
    Relationship,
    ReservedTime,
    SequenceVersion,
    ToldDate,
    Visit,
)


class LookOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Lists and shows; adds, changes and deletes nothing."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


@admin.register(SequenceVersion)
class SequenceVersionAdmin(LookOnly):
    list_display = ("name", "key", "number", "builder", "published_at")
    list_filter = ("builder",)


@admin.register(House)
class HouseAdmin(LookOnly):
    list_display = ("name", "key", "builder", "starts_on", "supervisor", "finished_at")
    list_filter = ("builder",)
    search_fields = ("name", "key", "address")
    list_select_related = ("builder", "supervisor")


@admin.register(Activity)
class ActivityAdmin(LookOnly):
    list_display = ("key", "name", "house", "half_days", "point_kind", "actual_start", "actual_finish")
    list_filter = ("point_kind", "house__builder")
    search_fields = ("key", "name", "house__name")
    list_select_related = ("house",)


@admin.register(Relationship)
class RelationshipAdmin(LookOnly):
    list_display = ("predecessor", "kind", "successor", "lag", "lag_calendar")
    list_filter = ("house__builder",)
    search_fields = ("house__name", "predecessor__key", "successor__key")
    list_select_related = ("predecessor__house", "successor__house")


@admin.register(Visit)
class VisitAdmin(LookOnly):
    list_display = ("name", "house", "trade", "delivery")
    list_filter = ("trade", "house__builder")
    search_fields = ("name", "house__name")
    list_select_related = ("house", "trade")


@admin.register(Detail)
class DetailAdmin(LookOnly):
    list_display = ("key", "name", "house", "point")
    search_fields = ("key", "name", "house__name")
    list_select_related = ("house", "point__house")


@admin.register(Hold)
class HoldAdmin(LookOnly):
    list_display = ("label", "house", "lifted_at", "set_aside_at")
    list_filter = ("house__builder",)
    search_fields = ("label", "house__name")
    list_select_related = ("house",)


@admin.register(Booking)
class BookingAdmin(LookOnly):
    list_display = ("visit", "crew", "state", "told_start", "told_finish", "went_past_hold")
    list_filter = ("state", "house__builder")
    search_fields = ("house__name", "crew__name")
    list_select_related = ("visit__house", "crew")


@admin.register(ReservedTime)
class ReservedTimeAdmin(LookOnly):
    list_display = ("crew", "builder", "first", "end", "units", "agreed_at")
    list_filter = ("builder",)
    list_select_related = ("crew", "builder")


@admin.register(ToldDate)
class ToldDateAdmin(LookOnly):
    list_display = ("booking", "start", "finish", "state", "at", "why")
    list_select_related = ("booking__visit__house", "booking__crew")


@admin.register(Plan)
class PlanAdmin(LookOnly):
    list_display = ("house", "number", "at", "cause", "stake_start", "finish")
    list_filter = ("house__builder",)
    search_fields = ("house__name", "cause")
    list_select_related = ("house",)


@admin.register(Change)
class ChangeAdmin(LookOnly):
    list_display = ("at", "house", "what", "words", "by", "crew")
    list_filter = ("what", "house__builder")
    search_fields = ("words", "house__name")
    list_select_related = ("house", "by", "crew")
