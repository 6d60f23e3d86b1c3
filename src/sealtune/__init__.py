"""Tells whether a finished vented loudspeaker box is sealed and tuned."""

__version__ = "0.1.0"
