"""The picture that `measure --plot` leaves: whose limits it shows, and what it says to hear again."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from django.core.management import call_command

from analysis.audio import hear
from analysis.core.records import Asked, Measurement, Request
from analysis.core.targets import LEVELS
from analysis.plotted import asked_of, plotted, target_of, title, to_hear
from analysis.synthesis import Faults, ToneSpec, render, write

REQUEST = Request(asked=(Asked(58), Asked(67), Asked(73)))
SHADE = "{http://www.w3.org/2000/svg}rect"


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three notes; the second lies 26 cents high: outside every stage but the beginner's ends of the range."""
    specs = [
        ToneSpec(written_midi=58, seconds=2.0),
        ToneSpec(written_midi=67, seconds=2.0, faults=Faults(cents=26.0)),
        ToneSpec(written_midi=73, seconds=2.0),
    ]
    file = tmp_path_factory.mktemp("takes") / "evening.flac"
    write(file, render(specs, "alto", seed=2)[0])
    return file


@pytest.fixture(scope="module")
def heard(take: Path) -> Measurement:
    return hear(take, REQUEST)


def words(svg: str) -> str:
    return ET.fromstring(svg)[0].text or ""


def test_every_tone_has_its_band_and_the_one_that_missed_its_stakes(take, heard) -> None:
    drawn = ET.fromstring(plotted(take, heard, REQUEST, "intermediate"))
    assert sum(one.get("class") == "shade" for one in drawn.iter(SHADE)) == 3
    assert "".join(drawn.itertext()).count("here, ") == 1


def test_the_title_says_where_to_listen(take, heard) -> None:
    said = words(plotted(take, heard, REQUEST, "intermediate"))
    assert said.startswith("evening.flac, alto, intermediate targets: 3 tones. Hear G4 at 3.")


def test_the_stakes_stand_inside_the_tone_that_missed(heard) -> None:
    ((tone, (start_s, end_s)),) = to_hear(heard, REQUEST, [target_of(t, REQUEST, "intermediate") for t in heard.tones])
    assert tone.written == "G4"
    assert tone.start_s <= start_s < end_s <= tone.end_s


def test_another_stage_has_other_limits(heard) -> None:
    stages = [target_of(heard.tones[1], REQUEST, level).pitch_cents for level in LEVELS]
    assert stages == sorted(stages, reverse=True)
    assert len(set(stages)) == 3


def test_a_partial_and_a_very_soft_tone_are_held_against_their_own_rows(heard) -> None:
    """Limits as data/targets.toml has them: 12 cents in general, 20 for ppp, 30 for overtones."""
    asked = (Asked(67), Asked(67, dynamic="ppp"), Asked(58, partial=3))
    limits = [target_of(heard.tones[0], Request(asked=(one,)), "intermediate").pitch_cents for one in asked]
    assert limits == [12.0, 20.0, 30.0]


def test_what_was_asked_decides_what_is_missed(take) -> None:
    """A held tone answers a swell with no swell at all: the picture asks to hear it."""
    request = Request(asked=tuple(Asked(note, shape="swell") for note in (58, 67, 73)))
    level_tones = hear(take, request)
    targets = [target_of(tone, request, "intermediate") for tone in level_tones.tones]
    assert len(to_hear(level_tones, request, targets)) == 3


def test_a_tone_that_nobody_asked_for_is_taken_for_what_it_was(take) -> None:
    request = Request(dynamic="pp")
    tone = hear(take, request).tones[2]
    assert asked_of(tone, request) == Asked(73, dynamic="pp")


def test_a_long_name_of_a_file_leaves_room_for_the_message(heard) -> None:
    assert title("a recording of a long evening.m4a", heard, REQUEST, "beginner", []).startswith(
        "a recording of a lo…, alto"
    )


def test_a_take_with_nothing_to_say_says_so(heard) -> None:
    assert title("a.wav", heard, REQUEST, "beginner", []).endswith("Nothing to hear again.")


def test_the_command_writes_the_picture_of_the_stage_that_was_asked_for(take, tmp_path, capsys) -> None:
    out = tmp_path / "take.svg"
    call_command("measure", str(take), expect="Bb3,G4,C#5", plot=str(out), level="advanced")
    assert "advanced targets" in words(out.read_text("utf-8"))
    assert "G4" in capsys.readouterr().out


def test_a_picture_that_cannot_be_written_is_said_and_not_a_trace(take, tmp_path, capsys) -> None:
    with pytest.raises(SystemExit) as left:
        call_command("measure", str(take), plot=str(tmp_path / "nowhere" / "take.svg"))
    assert left.value.code == 2
    assert "Choose another place" in capsys.readouterr().err
