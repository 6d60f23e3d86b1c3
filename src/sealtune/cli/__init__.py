"""Arguments in, exit code out; the only part that prints."""
