"""What to say, and the text, page and figures that say it."""
