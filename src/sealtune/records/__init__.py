"""Frozen, typed nouns that pass between the parts of the program. SI units inside."""
