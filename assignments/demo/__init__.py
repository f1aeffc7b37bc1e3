"""An invented studio to look around in: its people, and what they have played so far."""
