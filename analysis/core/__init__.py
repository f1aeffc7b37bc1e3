"""Pure measurement of sustained wind tones: arrays and records in, records out. No Django, no files, no clock."""
