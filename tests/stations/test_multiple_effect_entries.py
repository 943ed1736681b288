"""What the entry of an evaporator in the factory file expands to."""

import pytest

from canewright.stations.multiple_effect import MultipleEffect


def test_first_bodies_in_parallel_share_the_exhaust():
    bodies = [
        {"surface": "3500 m2", "vapour": "vapour 1"},
        {"surface": "3500 m2", "vapour": "vapour 1", "heating": "exhaust"},
        {"surface": "5000 m2", "vapour": "vapour 2"},
        {"surface": "3500 m2", "vapour": "last vapour"},
    ]
    expanded = MultipleEffect.expand(
        {
            "name": "set",
            "kind": "multiple_effect",
            "juice_in": "clear juice",
            "juice_out": "syrup",
            "steam": "exhaust",
            "exhaust_condensate": "exhaust condensate",
            "condensate": "condensate",
            "bodies": bodies,
        }
    )
    by_name = {entry["name"]: entry for entry in expanded}
    assert by_name["set body 2"]["condensate"] == "exhaust condensate"
    assert by_name["set body 3"]["heating"] == "vapour 1"
    assert by_name["set condensate flash 1"]["flash"] == "vapour 2"
    assert by_name["set condensate flash 1"]["condensate_out"] == "condensate"
    assert "set condensate flash 2" not in by_name


def test_single_effect_needs_no_flash():
    entries = MultipleEffect.expand(
        {
            "name": "one",
            "juice_in": "a",
            "juice_out": "b",
            "steam": "exhaust",
            "exhaust_condensate": "c",
            "holdup": "4 m3",
            "bodies": [{"surface": "500 m2"}],
        }
    )
    assert [entry["name"] for entry in entries] == ["one body 1"]
    assert entries[0]["vapour"] == "one vapour 1"
    assert entries[0]["holdup"] == "4 m3"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"bodies": []}, "one table for each body"),
        ({"juice_inn": "x"}, "no key 'juice_inn'. Did you mean 'juice_in'"),
        ({"bodies": [{"vapour": "v"}]}, "body 1: its 'surface' is missing"),
        ({"bodies": [{"surface": 1, "bleed": 3}]}, "body 1: there is no key 'bleed'"),
        ({"bodies": [{"surface": 1}] * 2}, "'condensate' is missing"),
        ({"steam": None}, "'steam' is missing"),
    ],
)
def test_a_wrong_entry_is_refused_with_a_sentence(change, sentence):
    entry = {
        "name": "set",
        "juice_in": "a",
        "juice_out": "b",
        "steam": "exhaust",
        "exhaust_condensate": "c",
        "bodies": [{"surface": "500 m2"}],
        **change,
    }
    entry = {key: value for key, value in entry.items() if value is not None}
    with pytest.raises(ValueError, match="multiple_effect") as refused:
        MultipleEffect.expand(entry)
    assert sentence in str(refused.value)
