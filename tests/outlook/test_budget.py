import numpy as np

from forestcycle.outlook import Budget


def test_the_last_year_given_holds_for_all_after_it():
    assert Budget("b", cents=(5, 3)).of_years(4).tolist() == [5, 3, 3, 3]
    assert Budget("b", cents=(5, 3, 1)).of_years(2).tolist() == [5, 3]


def test_without_money_there_is_no_limit_of_money():
    assert np.isinf(Budget("2 crews", most_crews=2).of_years(3)).all()
