"""Whatever is sent to the API: no server error, and every answer has the shape that the document promises.

``python -m tests.fuzz`` tries more examples than this file does by itself; which ones, is always the same.
"""

from __future__ import annotations

import os

import pytest
import schemathesis
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis.strategies import booleans
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import content_type_conformance, response_schema_conformance

from assignments import plans
from studio.api_rates import SharedRate
from studio.config.wsgi import application
from studio.models import Horn, User
from tests import builders, people

CSRF = "c" * 32
EXAMPLES = int(os.environ.get("TESTS_FUZZ_EXAMPLES", "30"))  # an operation
READ = {"GET /api/horns/{horn_id}/standing/", "GET /api/takes/", "GET /api/takes/{take_id}/"}
UNDERSTOOD = {"student": READ | {"POST /api/takes/", "POST /api/plans/{plan_id}/sound-check/"}, "teacher": READ}
CHECKS = [not_a_server_error, response_schema_conformance, content_type_conformance]


def signed_in(user: User) -> dict[str, str]:
    """Cookies of a browser that is signed in."""
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return {"footing": client.cookies["footing"].value, "footing-csrf": CSRF}


@pytest.fixture
def everybody(transactional_db: None, monkeypatch: pytest.MonkeyPatch) -> dict[str, User]:
    for scope in SharedRate.THROTTLE_RATES:
        monkeypatch.setitem(SharedRate.THROTTLE_RATES, scope, "1000000/hour")
    where = people.studio()
    horn = people.horn(where)
    boss = people.teacher(where)
    builders.week(horn, boss.user)
    return {"student": horn.player.user, "teacher": boss.user}


@pytest.fixture
def keys(everybody: dict[str, User]) -> dict[str, str]:
    """By the names that the document gives them: keys of something that is there, since nobody guesses one, and a
    recording's own words as a phone writes them."""
    horn = Horn.objects.get(player__user=everybody["student"])
    week = horn.weeks.get()
    plan = str(plans.plan_for(horn, horn.studio.today()).pk)
    exercise = str(builders.daily(week).pk)
    take = str(builders.take(week, b"RIFF of a sort").pk)
    there = {"horn_id": str(horn.pk), "take_id": take, "plan_id": plan, "plan": plan, "exercise": exercise}
    return {**there, "slots": "0", "parts": "false", "recorder": "{}"}


def point(case: schemathesis.Case, keys: dict[str, str]) -> None:
    """At something that is there, wherever a key is sent."""
    for part in (case.path_parameters, case.body):
        if isinstance(part, dict):
            part.update({name: keys[name] for name in part if name in keys})


@pytest.mark.parametrize("who", ["student", "teacher"])
def test_no_request_breaks_the_api(everybody: dict[str, User], keys: dict[str, str], who: str) -> None:
    cookies = signed_in(everybody[who])
    schema = schemathesis.openapi.from_wsgi("/api/schema/", application, headers={"Host": "localhost"})
    statuses: dict[str, list[int]] = {}
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            database=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy(), is_there=booleans())
        def send(case: schemathesis.Case, is_there: bool) -> None:
            if is_there:
                point(case, keys)
            response = case.call(headers={"Host": "localhost", "X-CSRFToken": CSRF}, cookies=cookies)
            statuses.setdefault(case.operation.label, []).append(response.status_code)
            case.validate_response(response, checks=CHECKS)

        send()
    assert len(statuses) > 5
    understood = {name for name, seen in statuses.items() if min(seen) < 300}
    assert understood >= UNDERSTOOD[who], "what was sent was not understood: the test is not testing"
