"""Joining with a code: type it, say who you are, and be in. No e-mail address, and under two minutes."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from studio import invitations, passphrases
from studio.door_forms import CodeForm, JoinForm
from studio.invitations import CodeRefusedError
from studio.models import Invitation, User
from studio.views.second_step import enter

SHOWN_CODE = "invitation"  # key of the session: whose code was typed here


@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    """The code. A QR code carries it behind a #, so that no server and no log ever sees it in an address."""
    form = CodeForm(request.POST or None)
    wait_s = 0
    if request.method == "POST" and form.is_valid():
        try:
            found = invitations.find(form.cleaned_data["code"], request.META["REMOTE_ADDR"])
        except CodeRefusedError as refusal:
            form.add_error("code", refusal.text)
            wait_s = refusal.wait_s
        else:
            request.session[SHOWN_CODE] = str(found.pk)
            return redirect("join_as")
    status = 429 if wait_s else 400 if form.errors else 200
    answer = render(request, "studio/join.html", {"form": form}, status=status)
    if wait_s:
        answer["Retry-After"] = str(wait_s)
    return answer


@require_http_methods(["GET", "HEAD", "POST"])
def join_as(request: HttpRequest) -> HttpResponse:
    """Who comes in: somebody new, or whoever is signed in here already (``as`` = ``me``)."""
    shown = request.session.get(SHOWN_CODE)
    invitation = invitations.usable(shown) if shown else None
    if invitation is None:
        return redirect("join")
    me = request.user if isinstance(request.user, User) and _may_be(request.user, invitation) else None
    if request.method == "POST" and me is not None and request.POST.get("as") == "me":
        return _accept(request, invitation, name=me.name, passphrase="", user=me)
    form = JoinForm(
        request.POST or None,
        has_account=invitation.member is not None,
        initial={"name": invitation.name, "passphrase": passphrases.make()},
    )
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        return _accept(request, invitation, name=sent.get("name", ""), passphrase=sent["passphrase"])
    context = {"invitation": invitation, "form": form, "me": me}
    return render(request, "studio/join_as.html", context, status=400 if form.errors else 200)


def _may_be(user: User, invitation: Invitation) -> bool:
    """Whether it may mean whoever is signed in here: no code for a lost slip does, nor a family’s its own child."""
    is_own_family = invitation.ward is not None and invitation.ward.user_id == user.pk
    return invitation.member is None and not is_own_family


def _accept(
    request: HttpRequest, invitation: Invitation, *, name: str, passphrase: str, user: User | None = None
) -> HttpResponse:
    try:
        member = invitations.accept(invitation, name=name, passphrase=passphrase, user=user)
    except CodeRefusedError:
        return redirect("join")
    request.session.pop(SHOWN_CODE, None)
    if user:
        return redirect("home")
    logout(request)  # whoever was signed in here
    answer = enter(request, member.user, reverse("home"))
    messages.info(request, _name_to_note(member.user))  # into the session that begins with the sign-in
    return answer


def _name_to_note(user: User) -> str:
    """Said on the first page, once: the passphrase is written down by then, the name was made a moment ago."""
    name = format_html('<b class="ltr">{}</b>', user.username)
    return format_html(_("Write this beside your passphrase: you sign in as {name}."), name=name)
