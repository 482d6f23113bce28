"""What every test shares. A property is never judged by how fast this machine happened to be."""

from hypothesis import settings

settings.register_profile("desk", deadline=None)
settings.load_profile("desk")
