"""Habits stand under the heading of what they bear on."""

from consults.ruleset.groups import practice_groups
from consults.ruleset.loader import load_bundled


def test_every_habit_of_the_bundled_rules_has_a_group():
    rules = load_bundled()
    assert set(practice_groups(rules)) == set(rules.practices)


def test_a_habit_stands_with_the_causes_whose_odds_it_moves_most():
    groups = practice_groups(load_bundled())
    assert groups["waters-daily"] == "watering"
    assert groups["lamp-far-or-weak"] == "light"
    assert groups["strong-feed-dose"] == "nutrition"
    assert groups["heater-lit"] == "climate"
