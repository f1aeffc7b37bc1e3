"""Tone colour: centroid, tilt, odd over even, with the count and the band they belong to."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.colour import of_partials, read
from analysis.core.records import Colour
from tests.unit.made import frames, span

K = np.arange(1.0, 41.0)
ODD = (np.arange(1, 41) % 2).astype(float)


# Closed forms: N/H(N) for a sawtooth, H(N) over the sum of 1/k² for 1/k², (N + 1)/2 for a pulse.
@pytest.mark.parametrize(
    ("amplitudes", "centroid"),
    [
        ([1.0], 1.0),
        (1.0 / K[:10], 3.41417),
        (1.0 / K[:20], 5.55905),
        (1.0 / K, 9.34898),
        (ODD[:10] / K[:10], 2.79751),
        (ODD[:20] / K[:20], 4.68767),
        (ODD[:10] / K[:10] ** 2, 1.50972),
        (1.0 / K[:20] ** 2, 2.25399),
        (np.ones(20), 10.5),
    ],
    ids=["sine", "sawtooth 10", "sawtooth 20", "sawtooth 40", "square 10", "square 20", "triangle", "1/k²", "pulse"],
)
def test_known_spectra_have_the_centroid_of_their_closed_form(amplitudes: np.ndarray, centroid: float) -> None:
    found = of_partials(np.square(np.asarray(amplitudes)), 200.0)
    assert found.centroid_harmonics == pytest.approx(centroid, abs=1e-4)
    assert found.centroid_hz == pytest.approx(200.0 * centroid, abs=0.02)
    assert found.harmonics == len(amplitudes)


@pytest.mark.parametrize(("power", "tilt"), [(1.0, -6.0206), (2.0, -12.0412), (0.0, 0.0)])
def test_a_spectrum_that_falls_by_so_much_an_octave_says_so(power: float, tilt: float) -> None:
    assert of_partials(K[:20] ** (-2.0 * power), 200.0).tilt_db_per_octave == pytest.approx(tilt, abs=1e-3)


def test_odd_over_even_leaves_the_fundamental_out() -> None:
    loud_first = np.ones(20)
    loud_first[0] = 1000.0
    assert of_partials(loud_first, 200.0).odd_even_db == pytest.approx(10.0 * np.log10(9.0 / 10.0))


def test_a_square_wave_has_no_even_partials_to_compare_with() -> None:
    assert of_partials(np.square(ODD[:20] / K[:20]), 200.0).odd_even_db == 60.0
    assert of_partials(np.array([1.0]), 200.0).odd_even_db is None


def test_a_tone_is_read_over_its_steady_part() -> None:
    colour, errors = read(frames(), span(), 220.0)
    assert colour.centroid_harmonics == pytest.approx(5.55905, abs=1e-3)
    assert (colour.harmonics, colour.band_hz) == (20, 8000.0)
    assert errors["centroid_harmonics"] < 1e-3


def test_no_partial_above_8_khz_is_counted() -> None:
    assert read(frames(f0_hz=880.0), span(), 880.0)[0].harmonics == 9
    assert read(frames(f0_hz=880.0), span(), 880.0)[0].centroid_harmonics == pytest.approx(9.0 / (1.0 / K[:9]).sum())


def test_a_colour_that_wanders_carries_a_larger_error() -> None:
    take = frames()
    take.partials[:250, 5:] *= 0.1
    _, errors = read(take, span(), 220.0)
    assert errors["centroid_harmonics"] > 0.3


def test_a_single_drowned_partial_moves_the_level_but_hardly_the_level_of_all_partials_alike() -> None:
    whole = np.square(1.0 / K[:20])
    drowned = whole.copy()
    drowned[0] *= 0.01
    fell_db = 10.0 * np.log10(whole.sum() / drowned.sum())
    moved_db = (of_partials(whole, 200.0).partials_db or 0.0) - (of_partials(drowned, 200.0).partials_db or 0.0)
    assert fell_db > 4.0
    assert moved_db < 0.45 * fell_db
    assert (of_partials(whole, 200.0).partials_db or 0.0) - (of_partials(0.1 * whole, 200.0).partials_db or 0.0) == (
        pytest.approx(10.0)
    )


def test_silence_has_no_colour() -> None:
    assert of_partials(np.zeros(20), 200.0) == Colour()
    assert read(frames(amplitudes=[0.0, 0.0, 1e-12]), span(ends_s=1.0, starts_s=1.0), 0.0) == (Colour(), {})


def test_two_partials_make_no_tilt() -> None:
    assert of_partials(np.array([1.0, 0.5]), 3900.0).tilt_db_per_octave is None
