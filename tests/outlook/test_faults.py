"""What becomes of a fault: one visit's work at a time, and worse means a visit more."""

from forestcycle.outlook.faults import (
    AFTER_VISIT,
    CORRECTABLE,
    DOSE_LEFT,
    FAULTS,
    GRAVE_1,
    GRAVE_2,
    GRAVE_3,
    NO_RECORD,
    PAST,
    SLIGHT_1,
    SLIGHT_2,
    UPKEEP,
    WORSE,
)

VISITS = {NO_RECORD: 1, UPKEEP: 1, SLIGHT_1: 1, SLIGHT_2: 2, GRAVE_1: 1, GRAVE_2: 2, GRAVE_3: 3}


def test_a_visit_leaves_one_visit_less_of_the_same_fault():
    for fault, visits in VISITS.items():
        after = AFTER_VISIT[fault]
        assert VISITS[after] == max(visits - 1, 1)
        if visits > 1:
            assert FAULTS[after].split(",")[0] == FAULTS[fault].split(",")[0]
        else:
            assert after == NO_RECORD


def test_the_dose_is_shared_out_evenly_over_the_visits():
    for fault, visits in VISITS.items():
        assert DOSE_LEFT[fault] == (visits - 1) / visits


def test_worse_is_grave_and_takes_a_visit_more():
    for slight, grave in WORSE.items():
        assert FAULTS[grave].startswith("grave")
        assert VISITS[grave] == VISITS[slight] + 1


def test_only_structural_faults_on_record_can_be_corrected():
    found = {fault for fault in range(len(FAULTS)) if CORRECTABLE[fault]}
    assert found == set(VISITS) - {NO_RECORD, UPKEEP}
    assert AFTER_VISIT[PAST] == NO_RECORD
