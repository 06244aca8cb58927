"""The planning pages' share of the table and of the world, a module for each part."""

from tests.access.planning import day_rules, mixes, offers, own_species, plans, value

PARTS = (plans, offers, mixes, value, day_rules, own_species)  # in the order their rows are made
