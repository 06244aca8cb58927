"""Reads of the species reference, each with a constant number of queries."""
