"""What the readings mean: pure functions and values, with no device, file, clock or window."""
