import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.analysis import (
    level_spread,
    mean_output_level_db,
    mean_spatial_variance_db2,
    power_average,
)

#: Seats by frequencies, dB: the worked example of mean spatial variance.
EXAMPLE = np.array([[80.0, 82.0, 78.0], [85.0, 79.0, 82.0]])


def test_mean_spatial_variance_of_the_worked_example():
    """Variances 6.25, 2.25 and 4.0 dB^2; their mean is 4.167 dB^2 (population)."""
    assert level_spread(EXAMPLE).deviation_db ** 2 == pytest.approx([6.25, 2.25, 4.0])
    assert mean_spatial_variance_db2(EXAMPLE) == pytest.approx(4.167, abs=0.0005)


def test_mean_output_level_and_range_of_the_worked_example():
    assert mean_output_level_db(EXAMPLE) == pytest.approx(81.0)
    assert level_spread(EXAMPLE).range_db == pytest.approx([5.0, 3.0, 4.0])
    assert level_spread(EXAMPLE).mean_db == pytest.approx([82.5, 80.5, 80.0])


def test_a_common_equaliser_leaves_the_spread_alone():
    equaliser = np.array([3.0, -7.0, 1.5])
    assert mean_spatial_variance_db2(EXAMPLE + equaliser) == pytest.approx(
        mean_spatial_variance_db2(EXAMPLE)
    )


def test_powers_are_averaged_not_levels():
    """Levels 85 and 80 dB have the mean power of 83.18 dB: 86.19 dB for their sum, less 3.01."""
    amplitudes = 10 ** (np.array([[85.0], [80.0]]) / 20) * np.exp(1j * np.array([[0.0], [3.0]]))
    assert 10 * np.log10(power_average(amplitudes)) == pytest.approx([86.19 - 3.01], abs=0.01)


def test_weights_count():
    response = np.ones((2, 3, 4)) * np.array([1.0, 2.0, 3.0])[:, None]
    assert power_average(response, [1, 0, 0]) == pytest.approx(np.full((2, 4), 1.0))
    assert power_average(response, [1, 1, 2]) == pytest.approx(np.full((2, 4), 5.75))


@pytest.mark.parametrize("weights", [[1, 1], [0, 0, 0], [1, -1, 2]])
def test_weights_that_do_not_fit_are_refused(weights):
    with pytest.raises(InputError):
        power_average(np.ones((3, 4)), weights)
