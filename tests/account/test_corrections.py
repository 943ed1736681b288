"""What is said after a correction: which reading, what moved, and by how much."""

from canewright.account.corrections import corrections


def run(*, readings=None, value=1.0, version="1", starts=("2026-07-06T06:00", "2026-07-06T14:00")):
    """A run as `canewright season --json` prints it, of as many shifts as there are starts."""
    figure = {"loss": {"label": "loss", "unit": "%", "value": value, "half_width_95": 0.5}}
    return {
        "canewright": version,
        "shifts": [
            {
                "start": start,
                "name": f"shift at {start}",
                "file": f"{start}.csv",
                "fingerprint": str(sorted((readings or {}).items())) if k == 0 else "same",
                "readings": readings or {},
                "set_aside": [{"name": "syrup brix"}] if k == 0 and readings else [],
            }
            for k, start in enumerate(starts)
        ],
        "to_date": figure,
        "periods": {"day": {"2026-07-06": figure}},
    }


def test_a_reading_that_reads_otherwise_is_named_with_both_values():
    found = corrections(
        run(readings={"syrup brix": [66.0], "syrup pol": [55.0]}),
        run(readings={"syrup brix": [65.0], "juice pol": [12.0]}, value=1.2),
    )
    told = {item.reading: (item.before, item.after, item.set_aside) for item in found.readings}
    assert told == {
        "syrup brix": ((66.0,), (65.0,), True),
        "syrup pol": ((55.0,), (), False),
        "juice pol": ((), (12.0,), False),
    }
    assert found.first == "shift at 2026-07-06T06:00"
    assert [(item.period, round(item.by, 9)) for item in found.moved] == [
        ("", 0.2),
        ("2026-07-06", 0.2),
    ]


def test_a_figure_that_moved_by_less_than_a_twentieth_of_its_half_width_is_not_told():
    before = run(readings={"a": [1.0]})
    assert corrections(before, run(readings={"a": [2.0]}, value=1.024)).moved == ()
    assert len(corrections(before, run(readings={"a": [2.0]}, value=1.026)).moved) == 2


def test_a_shift_that_came_or_went_is_named_and_what_follows_it():
    three = ("2026-07-06T06:00", "2026-07-06T14:00", "2026-07-06T22:00")
    both = run(), run(starts=three)
    came, went = corrections(*both), corrections(*reversed(both))
    assert (came.added, came.first) == (("2026-07-06T22:00.csv",), "shift at 2026-07-06T22:00")
    assert (went.gone, went.first) == (("2026-07-06T22:00.csv",), "")


def test_nothing_changed_is_told_apart_from_another_version():
    assert corrections(run(), run()).same_files
    assert corrections(run(), run()).versions == ()
    found = corrections(run(), run(version="2", value=2.0))
    assert found.same_files
    assert found.versions == ("1", "2")
    assert found.moved[0].by == 1.0


def test_an_earlier_run_that_did_not_tell_its_readings_is_compared_all_the_same():
    before = run(readings={"a": [1.0]})
    for shift in before["shifts"]:
        del shift["readings"]
    assert corrections(before, run(readings={"a": [2.0]})).readings == ()
