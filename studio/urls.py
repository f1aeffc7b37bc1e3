"""Addresses of this package."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from studio.views import SignIn

urlpatterns = [
    path("sign-in/", SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),  # by POST alone: no foreign page can sign anybody out
]
