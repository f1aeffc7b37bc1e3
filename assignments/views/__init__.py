"""Pages: each view makes one call and shows what came back."""
