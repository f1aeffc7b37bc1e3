"""WIRING: settings, URLs, the worker application and the supervisor. Nobody imports it; it names others."""
