"""How long a test that searches does so: short by default, whole where time does not matter."""

import os

WHOLE = os.environ.get("HYPOTHESIS_PROFILE") == "full"
# By default a test tries this part of its examples, so that all tests end within minutes.
_PART = 4
_LEAST = 8


def some(examples: int) -> int:
    """Give how many of a test's examples to try now."""
    return examples if WHOLE else min(examples, max(_LEAST, examples // _PART))
