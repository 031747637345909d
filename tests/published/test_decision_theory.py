"""Orders of tests against worked figures.

Sources: D. Heckerman, J. S. Breese and K. Rommelse, "Decision-theoretic troubleshooting", Commun. ACM 38(3),
1995, 49-57: expected cost of repair and falling p/C as the best order (result seen, pages from memory); the
earlier proof by J. B. Kadane and H. A. Simon, 1977 (from memory). K. R. Pattipati and M. G. Alexandridis,
IEEE Trans. SMC 20, 1990, 872-887: the shortest code as a bound, and the six-cause test matrix (abstract seen,
the matrix and its optimum 2.18 from memory). D. A. Huffman, Proc. IRE 40(9), 1952: the code itself (from
memory).
The five-cause example was worked by hand; its orders are checked against all 120.
"""

from __future__ import annotations

import heapq
import itertools
import random

import pytest

from engine.deciding import (
    best_order_with_access,
    best_tests,
    cost_with_access,
    entropy,
    expected_cost_of_repair,
    least_cost,
    shortest_code,
    value_of_test,
)
from engine.ordering import best_order, expected_cost

P = {"A": 0.35, "B": 0.25, "C": 0.20, "D": 0.12, "E": 0.08}
COST = {"A": 40.0, "B": 10.0, "C": 25.0, "D": 5.0, "E": 60.0}
MATRIX_P = (0.70, 0.01, 0.02, 0.10, 0.05, 0.12)
MATRIX = tuple(
    tuple(sign == "1" for sign in row) for row in ("00000", "01001", "00110", "10011", "11000", "11110")
)


@pytest.mark.parametrize(
    ("order", "expected"), [("BDACE", 50.75), ("ABCDE", 62.3), ("DBCAE", 51.55)], ids=["p/C", "by p", "by C"]
)
def test_expected_cost_of_an_order(order, expected):
    assert expected_cost(order, P, COST) == pytest.approx(expected, abs=1e-9)


def test_falling_probability_over_cost_is_the_best_of_all_orders():
    costs = {order: expected_cost(order, P, COST) for order in itertools.permutations("ABCDE")}

    assert "".join(best_order(P, COST)) == "BDACE"
    assert min(costs.values()) == pytest.approx(50.75)
    assert max(costs.values()) == pytest.approx(116.15)
    ratios = {name: P[name] / COST[name] for name in P}
    assert ratios == pytest.approx(
        {"A": 0.00875, "B": 0.025, "C": 0.008, "D": 0.024, "E": 0.001333}, abs=1e-6
    )


def test_the_repair_itself_does_not_depend_on_the_order():
    repair = {"A": 100.0, "B": 30.0, "C": 10.0, "D": 5.0, "E": 300.0}
    extra = {
        expected_cost_of_repair(order, P, COST, repair) - expected_cost(order, P, COST)
        for order in ("ABCDE", "EDCBA", "BDACE")
    }

    assert all(one == pytest.approx(35.0 + 7.5 + 2.0 + 0.6 + 24.0) for one in extra)


def test_a_perfect_test_for_two_of_the_causes():
    positive = {"A": 1.0, "B": 0.0, "C": 0.0, "D": 0.0, "E": 1.0}
    worth = value_of_test(P, COST, positive, 8.0)

    assert worth.break_even == pytest.approx(16.45)
    assert worth.after == pytest.approx(42.30)
    assert worth.value == pytest.approx(8.45)
    assert value_of_test(P, COST, positive, 16.5).value < 0.0


def test_an_imperfect_test_only_reorders_the_list():
    positive = {name: 0.9 if name in "AE" else 0.05 for name in P}

    assert value_of_test(P, COST, positive, 8.0).after == pytest.approx(46.84)


def test_a_test_that_says_nothing_is_worth_nothing():
    assert value_of_test(P, COST, dict.fromkeys(P, 0.5), 0.0).value == pytest.approx(0.0, abs=1e-9)


def test_shared_access_breaks_probability_over_cost():
    p = {"1": 0.40, "2": 0.30, "3": 0.05, "4": 0.25}
    cost = {"1": 5.0, "2": 2.0, "3": 2.0, "4": 2.0}
    access = {"1": ("cover", 10.0), "2": ("cover", 10.0)}
    best = best_order_with_access(p, cost, access)

    assert "".join(best) == "4213"
    assert cost_with_access(best, p, cost, access) == pytest.approx(13.35)
    assert cost_with_access(best_order(p, cost), p, cost, access) == pytest.approx(15.75)
    assert cost_with_access("4132", p, cost, access) == pytest.approx(14.55)


def test_too_many_causes_to_try_every_order():
    many = {str(at): 0.1 for at in range(9)}

    with pytest.raises(ValueError, match="at most 8"):
        best_order_with_access(many, many, {})
    with pytest.raises(ValueError, match="at most 14"):
        best_tests([1 / 15] * 15, [[True]] * 15, [1.0])


def test_the_six_cause_matrix_of_the_literature():
    found = best_tests(MATRIX_P, MATRIX, [1.0] * 5)

    assert found.cost == pytest.approx(2.18)
    assert found.first == 1  # the second column, counted from nought
    assert shortest_code(MATRIX_P) == pytest.approx(1.59)
    assert entropy(MATRIX_P) == pytest.approx(1.454873, abs=1e-6)


def test_shortest_code_of_the_five_causes_and_the_bound_with_unequal_costs():
    assert shortest_code(list(P.values())) == pytest.approx(2.2)
    assert entropy(list(P.values())) == pytest.approx(2.153062, abs=1e-6)
    assert least_cost([2.0, 1.0, 5.0, 3.0], 2.2) == pytest.approx(3.6)


def code_length(p) -> float:
    """Mean code length by building the tree and reading off depths; the other way round than the engine."""
    heap = [(share, at, [at]) for at, share in enumerate(p)]
    heapq.heapify(heap)
    depth = [0] * len(p)
    count = len(p)
    while len(heap) > 1:
        one, other = heapq.heappop(heap), heapq.heappop(heap)
        for leaf in (*one[2], *other[2]):
            depth[leaf] += 1
        heapq.heappush(heap, (one[0] + other[0], count, one[2] + other[2]))
        count += 1
    return sum(share * deep for share, deep in zip(p, depth, strict=True))


def cheapest(p, says, costs) -> float:
    """Expected cost of the best sequence, by plain recursion over lists of causes."""

    def go(causes):
        options = [
            sum(p[c] for c in causes) * cost
            + go([c for c in causes if says[c][test]])
            + go([c for c in causes if not says[c][test]])
            for test, cost in enumerate(costs)
            if 0 < sum(says[c][test] for c in causes) < len(causes)
        ]
        return min(options, default=0.0)

    return go(list(range(len(p))))


@pytest.mark.parametrize("seed", range(40))
def test_no_sequence_of_tests_beats_the_bounds(seed):
    draw = random.Random(seed)
    causes, tests = draw.randint(2, 5), draw.randint(3, 5)
    raw = [draw.random() for _ in range(causes)]
    p = [value / sum(raw) for value in raw]
    says = [
        [bool(code >> test & 1) for test in range(tests)] for code in draw.sample(range(2**tests), causes)
    ]
    costs = [draw.choice([1.0, 2.0, 3.0, 5.0]) for _ in range(tests)]

    found = best_tests(p, says, costs).cost
    length = shortest_code(p)
    assert found == pytest.approx(cheapest(p, says, costs))
    assert length == pytest.approx(code_length(p))
    assert entropy(p) <= length + 1e-9 <= entropy(p) + 1.0 + 1e-9
    assert found >= least_cost(costs, length) - 1e-9
