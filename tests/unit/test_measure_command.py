"""The command ``measure``: a table for people, JSON for programs, and an exit status that says what happened."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from analysis import audio
from analysis.core.records import Request
from analysis.second_opinion import second_opinion, told
from analysis.synthesis import Faults, Place, ToneSpec, render, write


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    specs = [
        ToneSpec(written_midi=58, seconds=2.5, breath=True),
        ToneSpec(written_midi=67, seconds=2.5, faults=Faults(vibrato_cents=25.0, cents=12.0)),
        ToneSpec(written_midi=73, seconds=2.5, faults=Faults(crack_s=0.1)),
    ]
    samples, _ = render(specs, place=Place(noise_dbfs=-70.0))
    path = tmp_path_factory.mktemp("takes") / "take.flac"
    write(path, samples, "flac")
    return path


@pytest.fixture(scope="module")
def noise(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("takes") / "noise.flac"
    write(path, (0.05 * np.random.default_rng(1).normal(size=4 * 48_000)).astype(np.float32), "flac")
    return path


def report(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    call_command("measure", *arguments, "--json")
    return json.loads(capsys.readouterr().out)


def left_with(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        call_command("measure", *arguments)
    said = capsys.readouterr()
    return left.value.code, said.out, said.err


def test_the_table_reads_like_music(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("measure", str(take), "--expect", "Bb3,G4,C#5,F#6")
    lines = capsys.readouterr().out.splitlines()
    assert "s of sound, flac, 48000 Hz" in lines[0]
    rows = [line.split() for line in lines[4:7]]
    assert [row[1] for row in rows] == ["B♭3", "G4", "C♯5"]
    assert float(rows[1][4]) == pytest.approx(12.0, abs=0.5)
    assert "5.2, ±25" in lines[5]
    assert "cracks" in lines[6]
    assert "Not heard: F♯6" in lines


def test_a_second_opinion_is_asked_of_every_pitch(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("measure", str(take), "--second-opinion")
    assert "Second opinion (librosa's yin): 3 of 3 tones within 5 cents" in capsys.readouterr().out
    call_command("measure", str(take), "--second-opinion", "--json")
    said = capsys.readouterr()
    assert len(json.loads(said.out)["tones"]) == 3
    assert "3 of 3" in said.err


def test_a_second_opinion_names_the_tone_that_it_hears_elsewhere(take: Path) -> None:
    heard = audio.hear(take, Request(instrument="alto"))
    wrong = replace(heard.tones[1], f0_hz=2 * heard.tones[1].f0_hz)
    opinions = second_opinion(take, replace(heard, tones=(heard.tones[0], wrong, heard.tones[2])), "alto")
    assert [round(one.apart_cents / 10) for one in opinions] == [0, -120, 0]
    assert "2 of 3 tones" in told(opinions)[0]
    assert told(opinions)[1].startswith("  G4 (2): -1")
    assert told(()) == ["Second opinion: there is no tone to ask about."]


def test_the_json_holds_what_was_asked_and_heard(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heard = report(capsys, str(take), "--expect", "Bb3,C4,C#5")
    assert heard["missing"] == ["C4"]
    assert heard["extra"] == [1]
    assert [tone["expected"] for tone in heard["tones"]] == [True, False, True]
    assert heard["audio"]["sha256"] == report(capsys, str(take))["audio"]["sha256"]


def test_the_instrument_and_the_tuning_note_change_the_answer(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tenor = report(capsys, str(take), "--instrument", "tenor", "--a4", "442")
    assert [tone["written"] for tone in tenor["tones"]] == ["Eb4", "C5", "F#5"]
    assert tenor["tones"][0]["pitch_cents"] == pytest.approx(-7.85, abs=0.1)


def test_the_same_file_gives_the_same_report(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert report(capsys, str(take)) == report(capsys, str(take))


def test_what_cannot_be_measured_ends_with_3_and_its_reasons(noise: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = left_with(capsys, str(noise), "--expect", "C4")
    assert status == 3
    assert "I heard sound, but no held tone." in out
    assert err == ""
    status, out, err = left_with(capsys, str(noise), "--json")
    assert (status, json.loads(out)["capture"]["readable"]) == (3, False)
    assert err.count("\n") == 1


def test_what_is_too_long_ends_with_3_and_a_whole_report(
    take: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(audio.hear, "__kwdefaults__", {"longest_s": 5.0})
    status, out, _ = left_with(capsys, str(take), "--json", "--expect", "C4,D4")
    answer = json.loads(out)
    assert status == 3
    assert answer["capture"]["reasons"] == ["too_long"]
    assert answer["missing"] == ["C4", "D4"]
    assert answer["audio"]["codec"] == "flac"


@pytest.mark.parametrize(
    "arguments",
    [
        ("--expect", "H4"),
        ("--expect", "overtones:Bb3:x"),
        ("--a4", "300"),
        ("--a4", "nan"),
        ("--pulses-per-second", "-1"),
        ("--pulses-per-second", "nan"),
    ],
    ids=" ".join,
)
def test_arguments_that_make_no_sense_end_with_2_and_one_sentence(
    take: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, str]
) -> None:
    status, out, err = left_with(capsys, str(take), *arguments)
    assert (status, out) == (2, "")
    assert err.startswith(arguments[0])
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    "arguments", [("--instrument", "kazoo"), ("--shape", "round"), ("--dynamic", "loud"), ("--a4", "x")]
)
def test_words_that_are_none_of_the_choices_are_refused(take: Path, arguments: tuple[str, str]) -> None:
    with pytest.raises(CommandError):
        call_command("measure", str(take), *arguments)


def test_a_file_that_is_no_sound_ends_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "words.wav"
    path.write_text("no sound")
    status, out, err = left_with(capsys, str(path))
    assert (status, out) == (2, "")
    assert "can't read this file as sound" in err
    assert left_with(capsys, str(tmp_path / "none.wav"))[0] == 2
