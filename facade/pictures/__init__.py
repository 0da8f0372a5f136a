"""Pictures: the front as it will look, in its wood and its light, and what the checks found on it."""

from facade.pictures.check import check_picture
from facade.pictures.front import front_picture, pictured
from facade.pictures.lights import light_words
from facade.pictures.relaxed import relaxed_picture
from facade.pictures.reliefs import relief_picture
from facade.pictures.sheets import album

__all__ = ["album", "check_picture", "front_picture", "light_words", "pictured", "relaxed_picture", "relief_picture"]
