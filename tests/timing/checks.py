"""How long the checks take: each of them on a gentle and on a steep front of 1.2 x 0.7 m, 54 strips, 1 mm.

.venv/bin/python tests/timing/checks.py
"""

from __future__ import annotations

import time

from facade import build_front, make_job
from facade.checks import CHECKS
from facade.front import Front

RELIEFS = {
    "gentle": {"kind": "swell", "size": 260, "seed": 3},
    "steep": {"kind": "hills", "size": 70, "octaves": 4, "seed": 2},
}


def front_of(layer: dict[str, object]) -> Front:
    """Return a front that everything is known of, so that every check has work to do."""
    settings = {
        "title": "Timing",
        "front": {"width": 1200, "height": 700, "doors": 2, "hidden_joint": True, "reveals": {"left": 3, "right": 3}},
        "strips": {"count": 54, "gap": 3},
        "wood": {"species": "white ash", "blank": 20, "floor": 8},
        "layers": [layer],
        "cutter": {"shape": "ball", "radius": 25},
        "hinges": {"pivot": "knife"},
        "beside": {"left": {"stands": "case side"}, "right": {"stands": "wall"}},
        "pulls": [{"centre": [560, 350], "size": [60, 90], "depth": 8}],
        "opening": {
            "mounting": "inset",
            "widths": [1200, 1200.5, 1201],
            "heights": [700, 700, 700.5],
            "diagonals": [1389.5, 1390],
        },
        "bare_doors": [{"door": 1, "bow": 0.5}, {"door": 2, "bow": 1.0}],
    }
    return build_front(make_job(settings))


def main() -> None:
    for name, layer in RELIEFS.items():
        front = front_of(layer)
        took = {}
        start = time.perf_counter()
        for _ in front.strips():
            pass
        took["cutting the strips"] = time.perf_counter() - start
        start = time.perf_counter()
        front.measures()
        took["measuring the strips"] = time.perf_counter() - start
        for check, run in CHECKS.items():
            start = time.perf_counter()
            run(front)
            took[check] = time.perf_counter() - start
        print(f"{name}: {sum(took.values()) * 1e3:.0f} ms")
        for what, seconds in took.items():
            print(f"  {what:<22} {seconds * 1e3:6.1f} ms")


if __name__ == "__main__":
    main()
