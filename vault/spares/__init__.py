"""The store of spares."""
