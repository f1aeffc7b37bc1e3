"""German dates: a full stop behind the day."""

# Django looks a pattern up here by its own name before it takes it literally: pages write "j F", German reads "j. F".
PATTERNS = {
    "j F": "j. F",
    "j M": "j. M",
    "j F Y": "j. F Y",
    "j F, H:i": "j. F, H:i",
    "D j M": "D j. M",
    "D j F": "D j. F",
    "l j F": "l, j. F",
    "l j F Y": "l, j. F Y",
}
globals().update(PATTERNS)
