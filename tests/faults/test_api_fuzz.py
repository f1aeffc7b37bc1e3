"""Whatever is sent to the API: no server error, and every answer has the shape that the document promises."""

from __future__ import annotations

import pytest
import schemathesis
from django.core.cache import cache
from django.test import Client
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import content_type_conformance, response_schema_conformance

from studio.config.wsgi import application
from studio.models import User
from tests import builders, people

CSRF = "c" * 32
EXAMPLES = 30
CHECKS = [not_a_server_error, response_schema_conformance, content_type_conformance]


def signed_in(user: User) -> dict[str, str]:
    """Cookies of a browser that is signed in."""
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return {"footing": client.cookies["footing"].value, "footing-csrf": CSRF}


@pytest.fixture
def everybody(transactional_db: None) -> dict[str, User]:
    where = people.studio()
    horn = people.horn(where)
    boss = people.teacher(where)
    builders.week(horn, boss.user)
    return {"student": horn.player.user, "teacher": boss.user}


@pytest.mark.parametrize("who", ["student", "teacher"])
def test_no_request_breaks_the_api(everybody: dict[str, User], who: str) -> None:
    cookies = signed_in(everybody[who])
    schema = schemathesis.openapi.from_wsgi("/api/schema/", application, headers={"Host": "localhost"})
    statuses = []
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            database=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy())
        def send(case: schemathesis.Case) -> None:
            cache.clear()  # the throttles count there
            response = case.call(headers={"Host": "localhost", "X-CSRFToken": CSRF}, cookies=cookies)
            statuses.append(response.status_code)
            case.validate_response(response, checks=CHECKS)

        send()
    assert len(statuses) > EXAMPLES
    assert min(statuses) < 300, "nothing that was sent was understood: the test is not testing"
