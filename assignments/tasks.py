"""The second step of the chain. Messages carry an id and nothing about a person."""

from __future__ import annotations

from uuid import UUID

from celery import shared_task

from assignments import demonstrations, settling


@shared_task(name="assignments.settle")
def settle(analysis_id: str) -> None:
    """Turn what was heard into tries and look at the gate, or into what a tone should sound like.

    Once, however often it arrives.
    """
    settling.settle(UUID(analysis_id))
    demonstrations.settle(UUID(analysis_id))
