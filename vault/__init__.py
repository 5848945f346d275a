"""gearkeep: each luminaire's driver settings as signed, versioned records keyed by a label on its housing."""
