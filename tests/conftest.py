"""Settings for all tests: what hypothesis tries is the same on every run; pages are tested where there is a browser."""

from browsing import CHROMIUM
from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None, database=None)
settings.load_profile("repeatable")

# .ci/run installs Chromium; on a machine without it the page's server is tested alone.
collect_ignore = [] if CHROMIUM else ["test_page.py"]


def pytest_report_header() -> str:
    """Say whether the page is tested in a browser."""
    return f"browser: {CHROMIUM or 'no Chromium here, tests of the page in a browser are left out'}"
