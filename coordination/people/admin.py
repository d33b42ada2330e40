"""Administration pages: who is who, regions and calendars, companies and crews."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar, cast

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from coordination import clock
from coordination.people.models import (
    Builder,
    CalendarDay,
    Company,
    Crew,
    CrewLink,
    CrewMember,
    Engagement,
    Person,
    Region,
    RegionDay,
    Role,
    Trade,
    WorkingCalendar,
)


class RoleInline(admin.TabularInline):  # type: ignore[type-arg]
    model = Role
    extra = 0
    fk_name = "person"


@admin.register(Person)
class PersonAdmin(UserAdmin):  # type: ignore[type-arg]
    """People sign in with their e-mail address; there is no other login name."""

    ordering = ("name",)
    list_display = ("name", "email", "phone", "is_active", "is_staff")
    search_fields = ("name", "email")
    fieldsets = (
        (None, {"fields": ("email", "password", "name", "phone")}),
        (_("Permissions"), {"fields": ("is_active", "is_staff", "is_superuser")}),
    )
    add_fieldsets = ((None, {"fields": ("email", "name", "password1", "password2")}),)
    inlines = (RoleInline,)

    def save_formset(self, request: HttpRequest, form: Any, formset: Any, change: bool) -> None:
        """Keep who gave a role here, as the office's own page does."""
        for role in formset.save(commit=False):
            if isinstance(role, Role) and role._state.adding:
                role.granted_by, role.granted_at = cast(Person, request.user), clock.now()
        super().save_formset(request, form, formset, change)


class EngagementInline(admin.TabularInline):  # type: ignore[type-arg]
    model = Engagement
    extra = 0


@admin.register(Builder)
class BuilderAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "slug", "time_zone", "state", "climate_zone")
    prepopulated_fields: ClassVar[dict[str, Sequence[str]]] = {"slug": ("name",)}
    # Who agreed, and when, is written by the act itself (office.py).
    readonly_fields = ("positions_agreed_at", "positions_agreed_by")
    inlines = (EngagementInline,)


class RegionDayInline(admin.TabularInline):  # type: ignore[type-arg]
    model = RegionDay
    extra = 0


@admin.register(Region)
class RegionAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "builder", "country", "subdivision")
    list_filter = ("builder",)
    inlines = (RegionDayInline,)


class CalendarDayInline(admin.TabularInline):  # type: ignore[type-arg]
    model = CalendarDay
    extra = 0


@admin.register(WorkingCalendar)
class WorkingCalendarAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "builder", "week")
    list_filter = ("builder",)
    inlines = (CalendarDayInline,)


@admin.register(Trade)
class TradeAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "key")
    search_fields = ("name", "key")


@admin.register(Company)
class CompanyAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "phone")
    search_fields = ("name",)


class CrewMemberForm(forms.ModelForm):  # type: ignore[type-arg]
    """A membership that stands names its person for good; only the day of leaving is still to be given."""

    class Meta:
        model = CrewMember
        fields = ("person", "left_on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].disabled = self.instance.pk is not None


class CrewMemberInline(admin.TabularInline):  # type: ignore[type-arg]
    """Who leaves is given a day and stays on the list; see the model."""

    model = CrewMember
    form = CrewMemberForm
    extra = 0
    can_delete = False


@admin.register(Crew)
class CrewAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = ("name", "company", "trade", "capacity", "word_time", "tells")
    list_filter = ("trade",)
    search_fields = ("name", "company__name")
    list_select_related = ("company", "trade")
    inlines = (CrewMemberInline,)


@admin.register(CrewLink)
class CrewLinkAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """Links are made on the crew's screen, where their secret is shown once; here they are only looked at."""

    list_display = ("crew", "kind", "created_at", "last_used_at", "revoked_at")
    list_filter = ("kind",)
    fields = ("crew", "kind", "created_at", "last_used_at", "revoked_at")

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: CrewLink | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: CrewLink | None = None) -> bool:
        return False
