"""Dates as each language writes them, where Django's own formats say nothing of the patterns that the pages use."""
