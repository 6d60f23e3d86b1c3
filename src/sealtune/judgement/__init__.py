"""Measured against designed: causes, leak size, remedy, verdict."""
