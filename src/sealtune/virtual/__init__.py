"""A virtual cabinet and the sound card it is recorded with."""
