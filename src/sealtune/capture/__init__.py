"""The sound device: playing, recording and listening; the only part that touches hardware."""
