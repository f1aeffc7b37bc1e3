"""How often one may ask the API is counted by all web processes together, and a broker that is away stops nobody."""

from __future__ import annotations

import socket
import time
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from studio import api_rates
from tests import people, servers

pytestmark = pytest.mark.django_db

MOST = 5


@pytest.fixture
def horn(studio, client, monkeypatch):
    monkeypatch.setitem(api_rates.SharedRate.THROTTLE_RATES, "reads", f"{MOST}/hour")
    horn = people.horn(studio)
    client.force_login(horn.player.user)
    return horn


def ask(client: Client):
    return client.get(reverse("api-takes"))


def ask_another_process(client: Client):
    """A process that has just begun has counted nothing yet."""
    cache.clear()
    return ask(client)


def test_every_web_process_counts_the_same(horn, client):
    assert [ask_another_process(client).status_code for _ in range(MOST + 1)] == [200] * MOST + [429]


def test_whoever_is_refused_is_told_when_to_come_again_and_that_nothing_is_lost(horn, client):
    answers = [ask_another_process(client) for _ in range(MOST + 1)]
    assert 0 < int(answers[-1]["Retry-After"]) <= 3600
    assert answers[-1].json()["code"] == "too_often"
    assert "Nothing is lost" in answers[-1].json()["text"]


def test_trying_on_makes_the_wait_no_longer(horn, client):
    for _ in range(MOST):
        ask(client)
    waits = [int(ask_another_process(client)["Retry-After"]) for _ in range(10)]
    assert waits == sorted(waits, reverse=True)


def test_each_person_is_counted_alone(horn, client, studio):
    for _ in range(MOST + 1):
        ask(client)
    other = Client()
    other.force_login(people.horn(studio, "Wilma Quay").player.user)
    assert (ask(client).status_code, ask(other).status_code) == (429, 200)


def test_requests_at_the_same_moment_are_all_counted():
    key = str(uuid.uuid4())
    api_rates._broker.cache_clear()  # as in a process that has just begun: each thread makes a client of its own
    with ThreadPoolExecutor(16) as pool:
        counts = list(pool.map(lambda _: api_rates._count(key, 60)[0], range(200)))
    assert sorted(counts) == list(range(1, 201))


@pytest.fixture
def silent_broker(settings) -> Iterator[None]:
    """It takes the line and never answers."""
    with socket.socket() as listening:
        listening.bind((servers.LOOPBACK, 0))
        listening.listen()
        settings.CELERY_BROKER_URL = f"redis://{servers.LOOPBACK}:{listening.getsockname()[1]}/0"
        yield


def test_with_a_silent_broker_it_is_answered_soon_and_each_process_counts_alone(horn, client, silent_broker):
    begun = time.monotonic()
    assert ask(client).status_code == 200
    assert time.monotonic() - begun < 2 + api_rates.PATIENCE_S
    assert [ask(client).status_code for _ in range(MOST)] == [200] * (MOST - 1) + [429]


def test_with_a_broker_that_is_gone_each_process_counts_alone(horn, client, settings, tmp_path):
    settings.CELERY_BROKER_URL = f"redis+socket://{tmp_path}/gone.sock?virtual_host=3"
    assert [ask(client).status_code for _ in range(MOST + 1)] == [200] * MOST + [429]


def test_the_brokers_private_socket_counts_too(tmp_path):
    server, url = servers.start_redis(tmp_path)
    try:
        client = api_rates._broker(f"{url}?virtual_host=3")
        client.set("here", 1)
        assert client.info("keyspace").keys() == {"db3"}
    finally:
        server.terminate()
        server.wait(10)
