"""A request by somebody who has signed in: what a view behind ``login_required`` receives."""

from __future__ import annotations

from django.http import HttpRequest

from studio.models import User


class SignedInRequest(HttpRequest):
    """For annotations: Django hands in an ordinary request, whose user is known by then."""

    user: User
