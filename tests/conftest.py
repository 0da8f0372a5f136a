"""Settings for all tests: what hypothesis tries is the same on every run."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None, database=None)
settings.load_profile("repeatable")
