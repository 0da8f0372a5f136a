"""The page of options: one HTML file that asks for nothing else, for a screen and a phone, light or dark."""

from __future__ import annotations

import base64
import io
from html import escape

from PIL import Image

from facade.options.exploring import Option, Options
from facade.options.telling import figure_lines, tried_text, value_lines, verdict_line
from facade.pictures.lights import light_words

_STYLE = """
:root { color-scheme: light dark; --paper: #fbfaf7; --ink: #23211e; --quiet: #5c574f; --line: #d8d3c8; }
@media (prefers-color-scheme: dark) { :root { --paper: #1d1c1a; --ink: #edeae4; --quiet: #b4aea3; --line: #3d3a35; } }
body { margin: 0; padding: 1.2rem; background: var(--paper); color: var(--ink); font: 1rem/1.45 system-ui, sans-serif; }
h1 { margin: 0; font-size: 1.6rem; } p { margin: .3rem 0 1.2rem; color: var(--quiet); }
main { display: grid; gap: 1.4rem; grid-template-columns: repeat(auto-fill, minmax(min(100%, 21rem), 1fr)); }
article { border-top: 1px solid var(--line); padding-top: .8rem; }
img { width: 100%; height: auto; display: block; }
h2 { margin: .6rem 0 .2rem; font-size: 1.15rem; } h2 b { font-size: 1.6rem; margin-right: .5rem; }
ul { margin: 0; padding-left: 1.1rem; } .own { color: var(--quiet); } .stops { font-weight: 700; }
code { overflow-wrap: anywhere; }
"""


def options_page(options: Options) -> bytes:
    """Return the page."""
    title = escape(options.job.title)
    articles = "\n".join(_article(option) for option in options.options)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="generator" content="facade">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}: options</title><style>{_STYLE}</style></head>
<body><h1>{title}</h1>
<p>{tried_text(options)}. All at one scale; {escape(light_words(options.job.picture))}.
Take one: <code>facade options JOB --take LETTER</code></p>
<main>
{articles}
</main></body></html>
""".encode()


def _article(option: Option) -> str:
    tried = option.shown.tried
    figures = "".join(f"<li>{escape(line)}</li>" for line in figure_lines(option))
    own = "<br>".join(f"<code>{escape(line)}</code>" for line in value_lines(option))
    stops = "".join(f"<li>{escape(sentence)}</li>" for sentence in tried.stops)
    kind = ' class="stops"' if tried.stops else ""
    return f"""<article><img alt="Option {option.letter}: the front in its wood and light" src="data:image/jpeg;base64,{_jpeg(option)}">
<h2><b>{option.letter}</b> Mark {tried.mark}</h2>
<ul><li{kind}>{escape(verdict_line(option))}</li>{stops}{figures}</ul>
<p class="own">{own}</p></article>"""


def _jpeg(option: Option) -> str:
    with Image.open(io.BytesIO(option.shown.picture)) as picture:
        file = io.BytesIO()
        picture.convert("RGB").save(file, "JPEG", quality=88)
    return base64.b64encode(file.getvalue()).decode("ascii")
