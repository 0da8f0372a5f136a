"""Pictures: the front as it will look, in its wood and its light."""

from facade.pictures.front import front_picture
from facade.pictures.reliefs import relief_picture

__all__ = ["front_picture", "relief_picture"]
