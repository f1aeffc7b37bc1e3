"""The application of a run's workers: theirs, with the decoder that can be poisoned."""

from pathlib import Path

from analysis import audio
from studio.config.celery import app

audio.DECODER = Path(__file__).with_name("decoder.py")

__all__ = ["app"]
