"""Finding the fault: what may be wrong, what it would show, how likely it is, and which test to make next."""
