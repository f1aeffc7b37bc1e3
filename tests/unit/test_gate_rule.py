"""The gate's rule: its defaults, what a teacher may set, and what contradicts itself."""

from __future__ import annotations

import pytest

from assignments import gate


def test_the_rule_starts_from_the_usual_numbers() -> None:
    usual = gate.Rule(
        on_target_share=0.8,
        planned=20,
        minimum_readable=12,
        window_days=10,
        window_span_days=21,
        opens_at=8,
        note_hits=3,
        note_tries=5,
        note_fresh_tries=3,
        note_fresh_days=30,
        teacher_confirms=True,
        notice_at=6,
        shuts_at=4,
        grace_days=3,
        rest_after_days=14,
        rest_days_on_target=3,
    )
    assert usual == gate.DEFAULT


@pytest.mark.parametrize(("planned", "minimum"), [(20, 12), (40, 24), (60, 36), (16, 10), (33, 20), (1, 1)])
def test_the_minimum_readable_is_sixty_percent_of_the_plan_rounded_up(planned: int, minimum: int) -> None:
    assert gate.rule_from({"planned": planned}).minimum_readable == minimum


def test_a_chosen_minimum_is_kept() -> None:
    assert gate.rule_from({"planned": 60, "minimum_readable": 8}).minimum_readable == 8


@pytest.mark.parametrize("name", ["notice_at", "shuts_at", "rest_after_days"])
def test_notice_shutting_and_rest_can_be_switched_off(name: str) -> None:
    assert getattr(gate.rule_from({name: None}), name) is None


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"shuts_at": 8}, "shuts_at"),
        ({"opens_at": 4}, "shuts_at"),
        ({"opens_at": 11}, "opens_at"),
        ({"window_days": 7}, "opens_at"),
        ({"note_hits": 6}, "note_hits"),
        ({"window_span_days": 9}, "window_span_days"),
    ],
)
def test_a_rule_that_contradicts_itself_is_refused(given: dict[str, object], field: str) -> None:
    with pytest.raises(gate.RuleError) as refused:
        gate.rule_from(given)
    assert refused.value.field == field


def test_without_a_note_rule_its_hits_contradict_nothing() -> None:
    assert gate.rule_from({"note_tries": 0, "note_hits": 7}).note_tries == 0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("planned", 0),
        ("minimum_readable", 0),
        ("window_days", 0),
        ("opens_at", 0),
        ("grace_days", -1),
        ("window_days", 1001),
        ("window_days", 10.0),
        ("window_days", True),
        ("window_days", "10"),
        ("window_days", None),
        ("grace_days", None),
        ("on_target_share", 0),
        ("on_target_share", 1.01),
        ("on_target_share", True),
        ("on_target_share", "0.8"),
        ("on_target_share", None),
        ("teacher_confirms", 1),
        ("teacher_confirms", None),
        ("days", 10),
    ],
)
def test_a_value_of_the_wrong_kind_or_size_is_refused_by_name(name: str, value: object) -> None:
    with pytest.raises(gate.RuleError) as refused:
        gate.rule_from({name: value})
    assert refused.value.field == name
    assert str(refused.value)


def test_a_share_of_one_may_be_written_without_a_point() -> None:
    assert gate.rule_from({"on_target_share": 1}).on_target_share == 1.0


def test_the_usual_rule_lies_within_what_a_teacher_may_set() -> None:
    assert gate.outside_range(gate.DEFAULT) == []


@pytest.mark.parametrize(
    ("given", "outside"),
    [
        ({"on_target_share": 0.7}, []),
        ({"on_target_share": 0.69}, ["on_target_share"]),
        ({"window_days": 14, "window_span_days": 35}, []),
        ({"window_days": 15, "window_span_days": 36}, ["window_days", "window_span_days"]),
        ({"note_hits": 2, "note_tries": 4}, []),
        ({"note_tries": 0}, []),
        ({"note_tries": 3}, ["note_tries"]),
        ({"shuts_at": None}, []),
        ({"shuts_at": 2}, ["shuts_at"]),
        ({"grace_days": 9}, ["grace_days"]),
        ({"teacher_confirms": False}, []),
    ],
)
def test_what_a_teacher_may_set_is_told_by_field(given: dict[str, object], outside: list[str]) -> None:
    assert gate.outside_range(gate.rule_from(given)) == outside


def test_every_field_of_the_rule_has_its_row_and_its_reason() -> None:
    assert list(gate.RANGES) == list(gate.Rule.__dataclass_fields__)
