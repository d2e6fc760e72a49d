"""A formula written once: numbers for numbers, arrays for arrays, NaN for what has no answer. Held against plain arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest

from booth.physics.elementwise import CHUNK, elementwise, plain


@elementwise
def quotient(above, below):
    return above / below


@elementwise
def root(value):
    return np.sqrt(value)


def test_numbers_give_a_plain_number():
    assert quotient(6, 3) == 2.0 and type(quotient(6, 3)) is float
    assert type(root(np.float64(4))) is float


@pytest.mark.parametrize("call", [lambda a, b: quotient(above=a, below=b), lambda a, b: quotient(a, below=b)])
def test_named_arguments_are_the_same(call):
    assert call(6, 3) == 2.0
    assert quotient(below=3, above=6) == 2.0
    np.testing.assert_array_equal(call([6, 9], 3), [2, 3])
    np.testing.assert_array_equal(call(6, [3, 2]), [2, 3])


def test_shapes_are_broadcast_as_numpy_does():
    above, below = np.arange(1.0, 4.0)[:, None], np.arange(1.0, 5.0)
    np.testing.assert_array_equal(quotient(above, below), above / below)
    assert quotient(np.ones((2, 0)), 1).shape == (2, 0)
    assert quotient([8], 2).shape == (1,)


@pytest.mark.parametrize("size", [CHUNK - 1, CHUNK, CHUNK + 1, 2 * CHUNK + 7])
def test_a_column_longer_than_a_chunk_has_every_element(size):
    column = np.arange(1.0, size + 1)
    np.testing.assert_array_equal(quotient(column, 2), column / 2)
    np.testing.assert_array_equal(quotient(column, column[::-1]), column / column[::-1])


def test_one_bad_value_stops_no_other_and_warns_nobody():
    np.testing.assert_array_equal(root([4, -1, 9, math.nan]), [2, math.nan, 3, math.nan])
    assert math.isnan(root(-1))
    assert quotient(1, 0) == math.inf and math.isnan(quotient(0, 0))


def test_a_result_of_one_number_is_plain():
    assert type(plain(np.array(3.0))) is float
    np.testing.assert_array_equal(plain(np.array([3.0])), [3.0])
