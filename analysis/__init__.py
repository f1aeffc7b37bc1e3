"""SOUND: recordings in, measurements out. Knows no people and no lessons."""
