"""Operators: products, encodings, application on both axes and both dtypes, choices."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import properties
import pytest
from hand import taps
from numpy.typing import NDArray
from scipy.sparse import csr_array

from scalesim.core.build import average_lines, filter_lines, repeat_lines, select_lines
from scalesim.core.operator import FieldOperator, Operator, join_encodings, matrix_from_taps, mixing, still
from scalesim.errors import EncodingError, ShapeError

BOX = average_lines(12, 4, 3.0)
DROP = select_lines(12, 4, 3.0, 1.0)
ACROSS = average_lines(6, 3, 2.0)


def dense(matrix: csr_array | None) -> NDArray:
    assert matrix is not None
    return matrix.toarray()


# application, against plain NumPy


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("channels", [1, 3, 4])
@pytest.mark.parametrize(("lines", "samples"), [(BOX, None), (None, ACROSS), (BOX, ACROSS), (DROP, ACROSS)])
def test_applies_as_dense_matrices_do(
    lines: csr_array | None, samples: csr_array | None, channels: int, dtype: type
) -> None:
    x = properties.seeded((12, 6, channels), 1, dtype)
    left = np.eye(12) if lines is None else lines.toarray()
    right = np.eye(6) if samples is None else samples.toarray()
    wanted = np.einsum("ij,jkc,lk->ilc", left, x.astype(np.float64), right)
    found = Operator(lines, samples, "code")(x)
    assert found.dtype == dtype and found.flags["C_CONTIGUOUS"]
    np.testing.assert_allclose(found, wanted, atol=1e-6 if dtype == np.float32 else 1e-14)


def test_applies_to_pictures_that_are_not_contiguous() -> None:
    x = properties.seeded((24, 6, 3), 2)
    found = Operator(BOX, ACROSS, "code")(x[1::2])
    np.testing.assert_array_equal(found, Operator(BOX, ACROSS, "code")(x[1::2].copy()))


def test_light_mixes_light() -> None:
    """V -> V^2.4 -> mean -> ^(1/2.4), written out (ITU-R BT.1886 exponent)."""
    x = properties.seeded((12, 6, 3), 3)
    wanted = (x.reshape(4, 3, 6, 3) ** 2.4).mean(axis=1) ** (1 / 2.4)
    np.testing.assert_allclose(Operator(BOX, encoding="light")(x), wanted, atol=1e-14)
    assert np.abs(Operator(BOX, encoding="code")(x) - wanted).max() > 0.01


def test_a_choice_is_exact_even_in_light() -> None:
    x = properties.seeded((12, 6, 3), 4, np.float32)
    assert np.array_equal(Operator(DROP, encoding="light")(x), x[1::3])


def test_nothing_is_nothing() -> None:
    x = properties.seeded((12, 6, 3), 5, np.float32)
    assert np.array_equal(Operator()(x), x)
    assert taps(Operator(), 7) == {7: 1.0}


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ((11, 6, 3), "picture has 11 lines; this operator was built for 12"),
        ((12, 5, 3), "picture has 5 samples; this operator was built for 6"),
        ((12, 6), "picture has 2 axes; it must have 3"),
    ],
)
def test_refuses_pictures_that_do_not_fit(shape: tuple[int, ...], words: str) -> None:
    with pytest.raises(ShapeError, match=words):
        Operator(BOX, ACROSS, "code")(np.zeros(shape))


# products


def test_product_is_the_matrix_product_second_at_first() -> None:
    first, second = (
        Operator(average_lines(12, 6, 2.0), encoding="code"),
        Operator(filter_lines(6, (1, 2, 1)), None, "code"),
    )
    product = second @ first
    np.testing.assert_allclose(dense(product.lines), dense(second.lines) @ dense(first.lines), atol=1e-15)
    x = properties.seeded((12, 4, 3), 6)
    np.testing.assert_allclose(product(x), second(first(x)), atol=1e-14)


def test_product_with_an_axis_left_alone() -> None:
    product = Operator(samples=ACROSS, encoding="code") @ Operator(BOX, encoding="code")
    assert product.lines is BOX and product.samples is ACROSS


def test_product_checks_sizes() -> None:
    with pytest.raises(ShapeError, match="the first leaves 4 lines, the second takes 12"):
        Operator(BOX, encoding="code") @ Operator(BOX, encoding="code")


@pytest.mark.parametrize(
    ("first", "second", "joined"),
    [
        ("any", "any", "any"),
        ("any", "code", "code"),
        ("code", "any", "code"),
        ("code", "code", "code"),
        ("light", "any", "light"),
        ("light", "light", "light"),
    ],
)
def test_encodings_join(first: str, second: str, joined: str) -> None:
    assert join_encodings(first, second) == joined  # type: ignore[arg-type]


@pytest.mark.parametrize(("first", "second"), [("code", "light"), ("light", "code")])
def test_code_and_light_do_not_join(first: str, second: str) -> None:
    with pytest.raises(
        EncodingError, match=f"an operator on {second} cannot be composed with one on {first}"
    ):
        join_encodings(first, second)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        Operator(BOX, encoding=second) @ Operator(encoding=first)  # type: ignore[arg-type]


def test_products_leave_no_dust() -> None:
    """Weights such as 1e-17 from cancelling taps are not taps; a product that is a choice is known as one."""
    shift = matrix_from_taps(
        (3, 3), np.array([0, 0, 1]), np.array([0, 1, 1]), np.array([1.0, 1e-15, 1 - 1e-15])
    )
    assert shift.nnz == 2 and set(shift.data) == {1.0}
    product = Operator(select_lines(24, 12, 2.0)) @ Operator(repeat_lines(12, 2))
    assert product.is_choice and product.encoding == "any"


def test_repeated_places_add_up() -> None:
    matrix = matrix_from_taps((1, 2), np.array([0, 0, 0]), np.array([1, 1, 0]), np.array([0.25, 0.5, 0.25]))
    assert matrix.toarray().tolist() == [[0.25, 0.75]]


def test_operators_are_composed_in_float64_and_stay_so() -> None:
    operator = Operator(BOX, ACROSS, "code")
    operator(np.zeros((12, 6, 3), np.float32))
    assert operator.lines is not None and operator.samples is not None
    assert operator.lines.dtype == np.float64 and operator.samples.dtype == np.float64


# taps and choices


def test_taps_come_in_the_order_of_the_input_lines() -> None:
    product = Operator(filter_lines(12, (1, 2, 1)), encoding="code") @ Operator(
        filter_lines(12, (1, 2, 1)), None, "code"
    )
    lines, weights = product.taps(6)
    assert all(b > a for a, b in pairwise(lines))
    assert dict(zip(lines.tolist(), weights.tolist(), strict=True)) == {
        4: 1 / 16,
        5: 4 / 16,
        6: 6 / 16,
        7: 4 / 16,
        8: 1 / 16,
    }


def test_taps_are_put_in_order() -> None:
    """Products may leave a row's places out of order."""
    unordered = csr_array((np.array([0.25, 0.75]), np.array([3, 1]), np.array([0, 2])), shape=(1, 4))
    lines, weights = Operator(unordered, encoding="code").taps(0)
    assert lines.tolist() == [1, 3] and weights.tolist() == [0.75, 0.25]


def test_what_is_a_choice() -> None:
    assert Operator().is_choice
    assert Operator(DROP).is_choice
    assert Operator(DROP, DROP).is_choice
    assert not Operator(BOX, encoding="code").is_choice
    assert not Operator(DROP, ACROSS, "code").is_choice
    assert not Operator(DROP * 0.5, encoding="code").is_choice  # one tap, but not a 1
    black = select_lines(12, 4, 3.0, -3.0, edge="black")
    assert not Operator(black).is_choice  # a black line is no input line


def test_mixing_knows_what_mixes_nothing() -> None:
    black = select_lines(12, 4, 3.0, -3.0, edge="black")
    assert mixing(black, encoding="light").encoding == "any"
    assert mixing(DROP, encoding="code").encoding == "any"
    assert mixing(encoding="code").encoding == "any"
    assert mixing(BOX, encoding="code").encoding == "code"
    assert mixing(DROP, ACROSS, encoding="light").encoding == "light"


# field operators


def test_field_operator_takes_turns() -> None:
    even, odd = Operator(select_lines(4, 2, 2.0)), Operator(select_lines(4, 2, 2.0, 1.0))
    fields = FieldOperator((even, odd))
    x = np.arange(4.0)[:, None, None]
    assert [fields(x, k)[:, 0, 0].tolist() for k in range(3)] == [[0, 2], [1, 3], [0, 2]]
    assert fields.period == 2 and fields.is_choice and fields.encoding == "any"


def test_field_product_has_the_least_common_period() -> None:
    a, b = Operator(), Operator(encoding="code")
    three, two = FieldOperator((a, a, b)), FieldOperator((a, b))
    product = three @ two
    assert product.period == 6
    assert [p.encoding for p in product.phases] == ["any", "code", "code", "code", "any", "code"]
    assert product.encoding == "code"
    assert (still() @ still()).period == 1


def test_field_operator_with_one_mixing_phase_is_no_choice() -> None:
    assert not FieldOperator((Operator(DROP), Operator(BOX, encoding="code"))).is_choice
