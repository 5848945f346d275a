"""Setting gear over a DALI bus and reading it back."""
