"""What the box was meant to be, and what that predicts."""
