"""Level control on graduated tones: the tone brightens and the level does not follow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.core.levelling import of_attacks, of_shapes
from analysis.core.records import Attack, Frames, ShapeReading
from analysis.core.tones import Found
from tests.unit.made import Curve, frames, span, tone

SECONDS = 6.0


def swelling(level_db: Curve, brightens: float = 0.6) -> Frames:
    """A tone whose upper partials grow through its first half and shrink through the second, at any level."""
    take = frames(seconds=9.0, ends_s=1.0 + SECONDS, level_db=level_db, floor_db=-90.0)
    place = np.clip((np.arange(len(take.f0_hz)) * 0.01 - 1.0) / SECONDS, 0.0, 1.0)
    slope = 2.0 - brightens * (1.0 - np.abs(2.0 * place - 1.0))
    shares = np.arange(1, 21)[None, :] ** (-2.0 * slope[:, None])
    take.partials[:] = take.tonal_power[:, None] * shares / shares.sum(axis=1, keepdims=True)
    return take


def swell(range_db: float) -> Curve:
    return lambda t: -15.0 - range_db * np.abs(2.0 * np.clip(t / SECONDS, 0.0, 1.0) - 1.0)


def levelled(take: Frames, shapes: Sequence[str] = ("swell",)) -> bool:
    found = [Found(span(ends_s=1.0 + SECONDS), 220.0) for _ in shapes]
    return of_shapes(take, found, [tone(shape=ShapeReading(kind)) for kind in shapes])  # type: ignore[arg-type]


def test_a_swell_that_grows_brighter_and_louder_is_a_swell() -> None:
    assert not levelled(swelling(swell(18.0)))


def test_a_swell_that_grows_brighter_and_hardly_louder_was_levelled() -> None:
    assert levelled(swelling(swell(3.0)))
    assert levelled(swelling(lambda t: -20.0 + 0.0 * t))


def test_a_level_that_falls_back_while_the_tone_still_brightens_was_levelled() -> None:
    assert levelled(swelling(lambda t: -20.0 + 8.0 * np.exp(-np.square((t - 1.0) / 0.8))))


def test_a_small_swell_that_hardly_brightens_is_given_the_benefit_of_the_doubt() -> None:
    assert not levelled(swelling(swell(3.0), brightens=0.02))


def test_plain_tones_are_looked_at_elsewhere() -> None:
    assert not levelled(swelling(swell(3.0)), ("sustained",))


def test_a_tone_too_short_to_compare_says_nothing() -> None:
    take = swelling(swell(3.0))
    assert not of_shapes(take, [Found(span(ends_s=1.4), 220.0)], [tone(shape=ShapeReading("swell"))])


def starting(accent_db: float, brighter: float = 0.0, notes: int = 4) -> bool:
    """Tones whose first 0.15 s stand over their body, with a centroid that lies ``brighter`` (logarithm) over it."""
    take = frames(level_db=lambda t: np.where(t < 0.15, accent_db - 20.0, -20.0), floor_db=-90.0)
    early = (np.arange(len(take.f0_hz)) * 0.01 > 0.99) & (np.arange(len(take.f0_hz)) * 0.01 < 1.15)
    shares = np.arange(1, 21) ** -2.0
    bright = shares * np.arange(1, 21) ** (1.2 * brighter)
    take.partials[:] = take.tonal_power[:, None] * shares / shares.sum()
    take.partials[early] = take.tonal_power[early, None] * (bright / bright.sum())
    return of_attacks(
        take, [tone(written_midi=60 + k, f0_hz=220.0, attack=Attack(accent_db=accent_db)) for k in range(notes)]
    )


def test_attacks_that_stand_over_their_body_and_are_no_brighter_were_levelled() -> None:
    assert starting(6.0)
    assert not starting(2.0)
    assert not starting(6.0, notes=2)


def test_an_accent_is_as_bright_as_it_is_loud() -> None:
    assert not starting(6.0, brighter=0.5)
