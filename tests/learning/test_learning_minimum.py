import numpy as np
import pytest

from dawnbrew.learning.minimum import minimum
from dawnbrew.nature.ripening import relative_rate

CELSIUS = np.arange(8.0, 49.0, 2.0)
RATE = np.array(
    [.012, .025, .048, .078, .107, .155, .186, .269, .311, .382, .411, .540, .554, .664, .679, .776, .757,
     .784, .655, .490, .249]
)  # fmt: skip
PRINTED = [5.02679, 40.36709, 49.03256, 0.75206]
PRINTED_ERRORS = [0.37058, 0.24985, 0.13336, 0.01156]
PRINTED_MISFIT = 0.01718  # residual standard error on 17 degrees of freedom


def root(at):
    lowest_c, best_c, highest_c, fastest = at
    return np.sqrt(fastest * relative_rate(CELSIUS, lowest_c=lowest_c, best_c=best_c, highest_c=highest_c))


def fitted(roots):
    def cost(at):
        return float(np.sum((root(at) - roots) ** 2)) / PRINTED_MISFIT**2 / 2

    return minimum(cost, np.array([4, 39, 49.5, 0.8]), np.array([1, 1, 1, 0.05]))


@pytest.mark.source(
    "Oscar 2002; fit as printed by the predmicror package",
    "Salmonella on chicken; its roots have three decimals",
)
def test_a_published_fit_is_found_with_its_parameters():
    found = fitted(np.round(np.sqrt(RATE), 3))
    # four of five printed decimals: the scales' hundredths over which we take differences cost the last one
    assert found.at == pytest.approx(PRINTED, abs=2e-4)
    assert 2 * found.cost * PRINTED_MISFIT**2 == pytest.approx(0.005018168, rel=1e-6)


@pytest.mark.source("predmicror, example of CMTI", "standard errors as printed")
def test_a_published_fit_is_found_with_its_standard_errors():
    found = fitted(np.round(np.sqrt(RATE), 3))
    # printed errors leave out the bend that the misfit adds (Gauss-Newton), so ask for data on the curve
    expected = fitted(root(found.at))
    assert expected.deviations == pytest.approx(PRINTED_ERRORS, rel=5e-3)
    # with that bend they may differ by some hundredths, never more on so good a fit
    assert found.deviations == pytest.approx(PRINTED_ERRORS, rel=6e-2)


@pytest.mark.source("definition", "the curvature of half a quadratic form is its matrix")
def test_a_quadratic_cost_gives_its_middle_and_its_covariance():
    middle, form = np.array([3.0, -2.0, 0.1]), np.array([[4.0, 1.0, 0.0], [1.0, 2.0, 0.3], [0.0, 0.3, 9.0]])

    def cost(at):
        return float((at - middle) @ form @ (at - middle)) / 2 + 5

    found = minimum(cost, np.zeros(3), np.array([1.0, 2.0, 0.5]))
    assert found.at == pytest.approx(middle, abs=1e-6)
    assert found.covariance == pytest.approx(np.linalg.inv(form), abs=1e-6)
    assert found.cost == pytest.approx(5)


@pytest.mark.source("definition", "a search that begins at the least cost ends there")
def test_a_search_from_the_least_cost_does_not_move():
    found = minimum(lambda at: float(np.sum(at**2)) / 2, np.zeros(2), np.ones(2))
    assert found.at.tolist() == [0.0, 0.0]
