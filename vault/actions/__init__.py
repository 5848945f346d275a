"""One function for each thing a user does; one transaction each."""
