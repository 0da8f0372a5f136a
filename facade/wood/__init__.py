"""Wood: what is known of each species."""

from facade.wood.species import Species, species, species_names

__all__ = ["Species", "species", "species_names"]
