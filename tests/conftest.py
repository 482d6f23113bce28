"""What every test shares. A property is never judged by how fast this machine happened to be.

The same examples are tried each time, so that one commit always gives one answer. DESK_EXPLORE=1 tries new
ones; a failure found so becomes an example of its own.
"""

import os

from hypothesis import settings

settings.register_profile("desk", deadline=None, derandomize=True)
settings.register_profile("explore", deadline=None)
settings.load_profile("explore" if os.environ.get("DESK_EXPLORE") else "desk")
