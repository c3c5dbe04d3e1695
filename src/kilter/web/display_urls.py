"""Addresses of the pages about objects on display, and about spares and donors."""

from __future__ import annotations

from django.urls import path

from kilter.web.pages import display_forms, display_object, donors, on_display

OBJECT = "object/<int:pk>/display/"
urlpatterns = [
    path("donors/", donors.donors, name="donors"),
    path("display/", on_display.on_display, name="on_display"),
    path("display/calendar.ics", on_display.calendar, name="display_calendar"),
    path("display/list/", on_display.wall, name="display_wall"),
    path("display/ahead/", on_display.look_ahead, name="look_ahead"),
    path("display/<slug:what>/<int:pk>/back/", display_forms.take_row_back, name="take_row_back"),
    path(OBJECT, display_object.display, name="display"),
    path(f"{OBJECT}calendar.ics", display_object.object_calendar, name="object_calendar"),
    path(f"{OBJECT}place/", display_forms.put_on, name="put_on"),
    path(f"{OBJECT}hours/", display_forms.write_hours, name="write_hours"),
    path(f"{OBJECT}inspection/", display_forms.write_inspected, name="write_inspected"),
    path(f"{OBJECT}wear/", display_forms.say_what_wears, name="say_what_wears"),
    path(f"{OBJECT}renewed/", display_forms.say_what_was_renewed, name="say_what_was_renewed"),
]
