"""Cut the faces of PDFs down to the letters that jobs and sheets nearly always use, so that no build has to.

.venv/bin/python tests/make_faces.py
"""

from __future__ import annotations

import json

from facade.exporters import faces

# Printable Latin-1, and what the sheets write besides.
USUAL = "".join(map(chr, (*range(0x20, 0x7F), *range(0xA1, 0xAD), *range(0xAE, 0x100)))) + "–—‘’“”•…←↑→↓−≈≠≤≥"


def main() -> None:
    faces.CUT.mkdir(exist_ok=True)
    for style in faces.STYLES:
        whole = faces.Whole(style)
        known = {letter: whole[letter] for letter in USUAL if letter in whole}
        about = {"measures": whole.measures, "letters": known}
        (faces.CUT / f"{style}.json").write_text(json.dumps(about, separators=(",", ":")) + "\n", "utf-8")
        (faces.CUT / f"{style}.ttf").write_bytes(whole.cut(known))
        print(f"{style}: {len(known)} letters, {(faces.CUT / f'{style}.ttf').stat().st_size} bytes")


if __name__ == "__main__":
    main()
