"""WORK: what is set, what was played, what it opens. Knows people and sound."""
