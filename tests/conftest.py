"""Hypothesis profiles: `local` by default, `ci` where CI is set, `thorough` on request.

HYPOTHESIS_PROFILE names another one, for instance before a release:
``HYPOTHESIS_PROFILE=thorough python -m pytest``.
"""

from __future__ import annotations

import os

from hypothesis import settings

# No deadline: the first example of a test pays for the imports made inside functions.
settings.register_profile("local", max_examples=50, deadline=None)
# The same examples on every run, so that an unrelated change never turns red by luck.
settings.register_profile("ci", max_examples=100, deadline=None, derandomize=True)
settings.register_profile("thorough", max_examples=2000, deadline=None)

settings.load_profile(
    os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "local")
)
