"""The bow of clad doors: against Timoshenko's two layers, against layered beams solved afresh, and against finite elements.

The finite-element model (layered_plate.py) is plane and elastic and knows nothing of the formulas; both see strips of 1000 MPa
across the grain and a board of 6000 MPa unless said otherwise.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from layered_plate import Material, Section, bow, curvature, unit

from facade.doors.movement import Cladding, layered_curvature, single_curvature
from facade.job.bench import Held

# Flat-sawn white oak through 4 % moisture: 4 x 0.00365 (Wood Handbook, FPL-GTR-190, Table 13-5).
STRAIN = 0.0146


def clad(held: Held = Held.GLUE, *, strip: float = 18.0, gap: float = 3.0, **changes: object) -> Cladding:
    """Return 20 strips on a door that they cover from edge to edge."""
    plain = Cladding(
        width=20 * strip + 19 * gap,
        count=20,
        strip=strip,
        gap=gap,
        edge=0.0,
        thickness=15.0,
        stiffness=1000.0,
        board=18.0,
        board_stiffness=6000.0,
        held=held,
        balanced=False,
    )
    return replace(plain, **changes)


def element_curvature(door: Cladding) -> float:
    """Return the curvature that finite elements give the same strips and board."""
    return curvature(
        unit(
            door.strip,
            door.gap,
            door.glued,
            door.board,
            door.thickness,
            board_material=Material(door.board_stiffness),
            strip_material=Material(door.stiffness),
        )
    )


def layers_solved(upper: float, lower: float, upper_stiffness: float, lower_stiffness: float) -> float:
    """Return the curvature of two layers for a strain of 1 in the upper, from the balance of force and moment.

    Strain is linear over both, e + k z from the back (Bernoulli): force and moment of all stresses are zero.
    """

    def moments(stiffness: float, low: float, high: float) -> np.ndarray:
        return stiffness * np.array([high - low, (high**2 - low**2) / 2, (high**3 - low**3) / 3])

    top = moments(upper_stiffness, lower, lower + upper)
    both = top + moments(lower_stiffness, 0.0, lower)
    _, slope = np.linalg.solve([[both[0], both[1]], [both[1], both[2]]], top[:2])
    return float(slope)


def test_two_equal_layers_curve_as_timoshenko_says() -> None:
    """1 / r = 3 strain / (2 h) for equal thickness and stiffness: S. Timoshenko, J. Opt. Soc. Am. 11(3), 1925."""
    assert layered_curvature(5.0, 5.0, 2000.0, 2000.0) == pytest.approx(3 / (2 * 10.0), rel=1e-12)


@pytest.mark.parametrize("upper", [3.0, 15.0, 40.0])
@pytest.mark.parametrize("stiffness", [400.0, 6000.0, 20_000.0])
def test_two_layers_curve_as_force_and_moment_balance(upper: float, stiffness: float) -> None:
    """Beam theory solved afresh, without Timoshenko's closed form."""
    assert layered_curvature(upper, 18.0, stiffness, 6000.0) == pytest.approx(
        layers_solved(upper, 18.0, stiffness, 6000.0), rel=1e-10
    )


def test_tight_door_of_420_mm_bows_by_10_mm() -> None:
    """Timoshenko's formula worked apart: board 18 mm, strips 15 mm, strain 0.0146, over 420 mm: 10.3 mm."""
    tight = clad(strip=21.0, gap=0.0)
    assert tight.width == 420.0
    assert tight.bow(STRAIN) == pytest.approx(10.3, abs=0.05)


def test_tight_strips_curve_in_finite_elements_as_timoshenko_says() -> None:
    assert curvature(unit(21.0, 0.0, 21.0, 18.0, 15.0)) == pytest.approx(
        layered_curvature(15.0, 18.0, 1000.0, 6000.0), rel=1e-6
    )


def test_tight_door_with_its_free_edges_bows_as_timoshenko_says() -> None:
    """A whole door of 420 mm in finite elements, its edges free: within 2 %, and not beyond the formula."""
    whole = bow(Section(end=210.0, strips=((0.0, 210.0, 0.0, 210.0),), board=18.0, thickness=15.0))
    assert whole == pytest.approx(clad(strip=21.0, gap=0.0).bow(1.0), rel=0.02)
    assert whole <= clad(strip=21.0, gap=0.0).bow(1.0)


@pytest.mark.parametrize(("strip", "gap"), [(12.0, 2.0), (18.0, 3.0), (24.0, 3.0)])
@pytest.mark.parametrize("held", [Held.GLUE, Held.BEAD])
@pytest.mark.parametrize(
    ("board", "thickness"), [(12.0, 8.0), (12.0, 15.0), (18.0, 8.0), (18.0, 15.0), (18.0, 22.0), (25.0, 15.0)]
)
def test_strips_with_gaps_curve_their_board_less_than_reckoned_but_not_by_far(
    strip: float, gap: float, held: Held, board: float, thickness: float
) -> None:
    door = clad(held, strip=strip, gap=gap, board=board, thickness=thickness)
    assert 1.05 < single_curvature(door) / element_curvature(door) < 1.6


@pytest.mark.parametrize("held", [Held.GLUE, Held.BEAD])
@pytest.mark.parametrize(
    ("strip", "gap", "thickness", "board"),
    [(8.0, 1.0, 25.0, 9.0), (50.0, 6.0, 5.0, 12.0), (150.0, 4.0, 5.0, 9.0), (150.0, 4.0, 15.0, 18.0)],
)
@pytest.mark.parametrize(("stiffness", "board_stiffness"), [(500.0, 10_000.0), (2500.0, 3000.0)])
def test_strips_of_any_size_and_stiffness_curve_their_board_less_than_reckoned(
    held: Held, strip: float, gap: float, thickness: float, board: float, stiffness: float, board_stiffness: float
) -> None:
    door = clad(
        held,
        strip=strip,
        gap=gap,
        thickness=thickness,
        board=board,
        stiffness=stiffness,
        board_stiffness=board_stiffness,
    )
    assert element_curvature(door) < single_curvature(door)


@pytest.mark.parametrize("held", [Held.GLUE, Held.BEAD])
def test_rings_and_plies_that_slide_curve_the_board_less_still(held: Held) -> None:
    """Rolling shear of 200 MPa, 2000 MPa upright in the strips and 1000 MPa in the board: of the size that woods have."""
    door = clad(held)
    layered = unit(
        door.strip,
        door.gap,
        door.glued,
        door.board,
        door.thickness,
        strip_material=Material(1000.0, 2000.0, 200.0),
        board_material=Material(6000.0, 1000.0, 300.0),
    )
    assert curvature(layered) < element_curvature(door)


def test_whole_gapped_door_bows_as_its_repeating_part_says() -> None:
    """Twenty strips on a door with free edges, against one strip of an endless row."""
    lefts = [1.5 + 21.0 * k for k in range(10)]
    whole = bow(Section(end=210.0, strips=tuple((x, x + 18.0, x, x + 18.0) for x in lefts), board=18.0, thickness=15.0))
    endless = curvature(unit(18.0, 3.0, 18.0, 18.0, 15.0)) * 420.0**2 / 8.0
    assert whole == pytest.approx(endless, rel=0.03)
    assert whole * STRAIN == pytest.approx(2.0, abs=0.1)


def test_narrower_strips_gaps_beads_and_thicker_boards_bow_a_door_less_in_both() -> None:
    """The order is the same in finite elements and in the formula, and the sizes are far apart."""
    tight = clad(strip=21.0, gap=0.0)
    doors = [
        clad(strip=24.0),
        clad(strip=18.0),
        clad(strip=12.0),
        clad(Held.BEAD, strip=24.0),
        clad(Held.BEAD, strip=18.0),
    ]
    reckoned, elements = [single_curvature(one) for one in doors], [element_curvature(one) for one in doors]
    assert reckoned == sorted(reckoned, reverse=True)
    assert elements == sorted(elements, reverse=True)
    for curvatures, most in ((reckoned, tight.bow(1.0) * 8 / 420.0**2), (elements, element_curvature(tight))):
        assert curvatures[1] < most / 3
        assert curvatures[4] < curvatures[1] / 5
    thin = clad(board=12.0)
    assert single_curvature(thin) > 2 * single_curvature(clad())
    assert element_curvature(thin) > 2 * element_curvature(clad())


def test_finer_elements_do_not_change_the_answer() -> None:
    coarse, fine = (curvature(unit(18.0, 3.0, 6.0, 18.0, 15.0), coarsest=size, finest=size / 8) for size in (1.6, 0.8))
    assert coarse == pytest.approx(fine, rel=0.02)
