"""Rows of the ground floor. One file per feature; Django wants one label per app."""

from garden.models.growers import Grower
from garden.models.photos import Photo
from garden.models.places import Feed, Garden, Lamp, Planting, Space, WaterSource
from garden.models.profiles import CropProfile
from garden.models.readings import Reading
from garden.models.staff import Staff

__all__ = [
    "CropProfile",
    "Feed",
    "Garden",
    "Grower",
    "Lamp",
    "Photo",
    "Planting",
    "Reading",
    "Space",
    "Staff",
    "WaterSource",
]
