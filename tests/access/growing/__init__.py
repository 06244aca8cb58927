"""From order to living tree: these pages' share of the table and of the world, a module for each part."""

from tests.access.growing import aftercare, crew_days, orders, receiving, telling, trace, walks

PARTS = (orders, receiving, crew_days, walks, aftercare, telling, trace)  # in the order their rows are made
