"""Draw the pictures that the repository shows: one of each preset, and one sheet with every kind of relief.

make pictures
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from facade import build_front, read_job
from facade.pictures import front_picture, relief_picture
from facade.presets import presets
from facade.reliefs import KINDS

FOLDER = Path(__file__).parent.parent / "presets"
QUALITY = 84


def small(data: bytes, width: int) -> Image.Image:
    """Return a PNG as a picture of a width; drawn larger and brought down, so that gaps do not shimmer."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    return picture.resize((width, round(width * picture.height / picture.width)), Image.Resampling.LANCZOS)


def relief_sheet(width: int = 330, columns: int = 3) -> Image.Image:
    """Return every kind of relief with its name under it."""
    pictures = {kind: small(relief_picture(kind, 2 * width), width) for kind in sorted(KINDS)}
    tall = max(picture.height for picture in pictures.values()) + 34
    rows = -(-len(pictures) // columns)
    sheet = Image.new("RGB", (columns * (width + 12) + 12, rows * tall + 12), "white")
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(20)
    for index, (kind, picture) in enumerate(pictures.items()):
        x, y = 12 + index % columns * (width + 12), 12 + index // columns * tall
        sheet.paste(picture, (x, y))
        draw.text((x + 4, y + picture.height + 2), kind, fill="black", font=font)
    return sheet


def main() -> None:
    for name, preset in presets().items():
        width = 1100 if name == "hall-cabinet" else 640
        small(front_picture(build_front(read_job(preset.path)), 2 * width), width).save(
            FOLDER / f"{name}.jpg", quality=QUALITY
        )
        print(f"presets/{name}.jpg")
    relief_sheet().save(FOLDER / "reliefs.jpg", quality=QUALITY)
    print("presets/reliefs.jpg")


if __name__ == "__main__":
    main()
