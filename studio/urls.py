"""Addresses of this package."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from studio.views import doors, join, language, second_step, shared
from studio.views.sign_in import SignIn

urlpatterns = [
    path("sign-in/", SignIn.as_view(), name="sign-in"),
    path("sign-in/code/", second_step.sign_in_code, name="sign_in_code"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),  # by POST alone: no foreign page can sign anybody out
    path("join/", join.join, name="join"),
    path("join/as/", join.join_as, name="join_as"),
    path("language/", language.language, name="language"),
    path("doors/", doors.my_doors, name="my_doors"),
    path("doors/second-step/", second_step.second_step, name="second_step"),
    path("devices/", shared.devices, name="devices"),
    path("devices/<uuid:device_id>/end/", shared.end_device, name="end_device"),
    path("pins/<uuid:membership_id>/", shared.pin, name="pin"),
    path("whose-turn/", shared.whose_turn, name="whose_turn"),
    path("whose-turn/<uuid:membership_id>/", shared.turn_of, name="turn_of"),
]
