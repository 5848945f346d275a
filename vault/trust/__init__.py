"""Who said what: codec, signed statements, signers and roles, journal proofs, the label's capsule."""
