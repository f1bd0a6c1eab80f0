"""Every run of the tests draws the same cases, so that a pass or a failure can be repeated."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.load_profile("repeatable")
