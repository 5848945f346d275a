"""Labels: media, codes, layout, drawing, reading. This room knows nothing of the vault; it gets plain texts."""
