"""What is true of luminaires and drivers. Pure: no input or output, no clock, no randomness, no database."""
