"""What came out at the bench otherwise than it was designed: strips left out, strips, spacers and blanks as measured."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from facade.fields import Model, Size, about, whole_number


class AsBuilt(Model):
    """What came out otherwise than designed. The relief is not refitted: strips keep the heights that they were designed with."""

    missing: Annotated[tuple[whole_number(1, 10_000), ...], Field(max_length=10_000)] = about(  # type: ignore[valid-type]
        "numbers of the strips that are left out; the gaps of their door are shared out anew", ()
    )
    stack: Size | None = about("ten strips pushed together measure this; the gaps are shared out anew", None)
    spacers: Size | None = about("ten spacers pushed together measure this", None)
    blank: Annotated[Size, Field(le=200)] | None = about(
        "thickness of the blanks as measured; depths, holes, folds and wraps are for it", None
    )

    def design(self) -> dict[str, Any]:
        """Return what of it decides where wood lies and how it is cut, nothing where nothing does; spacers are only compared."""
        return self.model_dump(mode="json", exclude={"spacers"}, exclude_defaults=True)
