"""What `gearkeep bench` measures: each figure beside its limit, both on this machine and in the same run."""
