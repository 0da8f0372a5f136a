"""What is said on the screen: findings drawn together, the worst in words, limits with their source, cautions once."""

from __future__ import annotations

import pytest
from helpers import small_front

from facade.checks import Finding, Weight, grouped
from facade.lengths import Ruler, Unit
from facade.screen import finding_lines, limit_text, strip_lines, verdict


def thin(strip: int, value: float, **changes: object) -> Finding:
    given = {"topic": "thin", "strip": strip, "value": value, "limit": 8.0, "source": "rule of thumb"} | changes
    return Finding("thickness", Weight.LOOK, f"Strip {strip} is {value:g} mm thick.", **given)


def said(*findings: Finding) -> str:
    return "\n".join(finding_lines(findings, Ruler()))


def test_findings_of_one_topic_are_one_with_the_worst_in_words() -> None:
    words = said(thin(4, 7.5), thin(5, 6.0), thin(6, 7.0), thin(9, 7.9))
    assert "Strip 5 is 6 mm thick." in words
    assert "Also on strips 4, 6 and 9." in words
    assert words.count("- ") == 1


def test_findings_without_a_topic_stand_alone() -> None:
    assert len(grouped([thin(4, 7.5, topic=""), thin(5, 6.0, topic="")])) == 2


def test_topics_of_another_weight_are_not_drawn_together() -> None:
    stops = Finding("thickness", Weight.STOPS, "Strip 4 breaks.", topic="thin", strip=4)
    assert len(grouped([stops, thin(5, 6.0)])) == 2


def test_a_limit_is_said_with_its_unit_and_where_it_comes_from() -> None:
    assert limit_text(thin(5, 6.0), Ruler()) == "8 mm, rule of thumb"
    assert limit_text(thin(5, 6.0, limit=12.7, source="said in the job"), Ruler(Unit.INCH)) == "1/2 in, said in the job"
    assert limit_text(thin(5, 40.0, limit=35.0, unit="degrees"), Ruler()) == "35 degrees, rule of thumb"


def test_a_caution_is_said_once() -> None:
    words = said(thin(4, 7.5, topic="", caution="Mind the disc."), thin(5, 6.0, topic="", caution="Mind the disc."))
    assert words.count("Mind the disc.") == 1


@pytest.mark.parametrize(
    ("weights", "words"),
    [
        ([], "nothing that was checked stops it."),
        ([Weight.LOOK, Weight.KNOW], "nothing that was checked stops it. 1 to look at."),
        ([Weight.STOPS], "NOT CLEARED. 1 finding stops it: swing."),
        ([Weight.STOPS, Weight.STOPS, Weight.LOOK], "NOT CLEARED. 2 findings stop it: swing. 1 to look at."),
    ],
)
def test_the_verdict_is_short(weights: list[Weight], words: str) -> None:
    assert verdict([Finding("swing", weight, "") for weight in weights]) == words


def test_a_strip_is_told_with_its_thickness_and_its_carving_directions() -> None:
    front = small_front(layers=[{"kind": "waves", "trains": [{"length": 60, "direction": 90}]}])
    words = "\n".join(strip_lines(front, 5))
    measures = front.measures()[4]
    assert f"{measures.thinnest.height:.1f}".rstrip("0").rstrip(".") + " mm" in words
    for line in ("left edge", "centre", "right edge"):
        assert f"carve {line}:" in words


def test_a_program_gets_what_is_known_of_a_finding_and_no_more() -> None:
    data = thin(5, 6.0).as_data()
    assert data["weight"] == "look at"
    assert data["unit"] == "mm"
    assert "cure" not in data
    assert "unit" not in Finding("layout", Weight.KNOW, "A note.").as_data()
