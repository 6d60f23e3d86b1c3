"""The only part that opens files."""
