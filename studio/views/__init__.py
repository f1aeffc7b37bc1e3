"""Pages of doors: signing in, joining, sign-ins that last, a shared device."""
